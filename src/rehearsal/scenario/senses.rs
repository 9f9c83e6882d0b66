//! What each transmitter of a site senses in the plant: a pressure at its lines, a level, a flow, the weather.

use super::{Scene, top_of};
use crate::engine::TransmitterId;
use crate::engine::plan::{
    Hookup, HookupPlan, Leg, LegFill, Measures, Reads, Source, StreamFlow, TankPlan,
    TransmitterPlan,
};
use crate::engine::tank::in_percent;
use crate::physics::liquid::{Conditions, Liquid};
use crate::plant::{Fill, LineModel, Ranging, Senses};
use crate::quantity::{Length, Temperature};

impl Scene<'_> {
    /// What a transmitter senses; the tank, if that is a pressure of a tank.
    pub(super) fn senses(
        &self,
        id: TransmitterId,
        plan: &TransmitterPlan,
    ) -> (Senses, Option<&TankPlan>) {
        let tanks = || self.site.plan.tanks.iter().enumerate();
        match plan.reads {
            Reads::Pressure(measures) => {
                let pressed = tanks().find_map(|(place, tank)| {
                    Some((self.pressed(place, tank, id, measures)?, Some(tank)))
                });
                let is_barometer = is_tag(&self.site.plan.ambient.pressure, id);
                pressed.unwrap_or((
                    if is_barometer {
                        Senses::AirPressure
                    } else {
                        Senses::Nothing
                    },
                    None,
                ))
            }
            Reads::Temperature => {
                let of_liquid = tanks().find(|(_, tank)| is_tag(&tank.liquid.temperature, id));
                let is_of_air = is_tag(&self.site.plan.ambient.temperature, id);
                let is_of_gas = tanks().any(|(_, tank)| is_tag(&tank.gas.temperature, id));
                match of_liquid {
                    // The gas of a plant has the temperature of the air.
                    _ if is_of_air => (Senses::AirTemperature, None),
                    Some((tank, _)) => (Senses::LiquidTemperature { tank }, None),
                    None if is_of_gas => (Senses::AirTemperature, None),
                    None => (Senses::Nothing, None),
                }
            }
            Reads::Level => tanks()
                .find_map(|(place, tank)| {
                    let ranging = tank.hookups.iter().find_map(|one| ranging(one, id, plan));
                    let level = ranging.map(|ranging| Senses::Level {
                        tank: place,
                        ranging,
                    });
                    Some((level?, Some(tank)))
                })
                .unwrap_or((Senses::Nothing, None)),
            Reads::Density => tanks()
                .find(|(_, tank)| {
                    let measured = tank.liquid.measured;
                    measured.is_some_and(|measured| measured.transmitter == id)
                })
                .map_or((Senses::Nothing, None), |(tank, _)| {
                    (Senses::LiquidDensity { tank }, None)
                }),
            Reads::Flow => tanks()
                .find_map(|(place, tank)| self.metered(place, tank, id, plan))
                .map_or((Senses::Nothing, None), |senses| (senses, None)),
        }
    }

    /// Its place in a tank's hookup, or at the top of the tank's vessel where it gives the gas's pressure.
    fn pressed(
        &self,
        place: usize,
        tank: &TankPlan,
        id: TransmitterId,
        measures: Measures,
    ) -> Option<Senses> {
        let sensed = tank
            .hookups
            .iter()
            .find_map(|hookup| self.hooked(place, tank, &hookup.hookup, id, measures));
        if sensed.is_some() {
            return sensed;
        }
        let top = top_of(tank);
        let at_top = LineModel::Tapped {
            tap: top,
            diaphragm: top,
            fill: Fill::Gas,
        };
        is_tag(&tank.gas.pressure, id).then(|| single(place, at_top, measures))
    }

    fn hooked(
        &self,
        place: usize,
        tank: &TankPlan,
        hookup: &Hookup,
        id: TransmitterId,
        measures: Measures,
    ) -> Option<Senses> {
        if !hookup.transmitters().any(|of| of == id) {
            return None;
        }
        let line = |leg: &Leg, diaphragm| self.line(tank, leg, diaphragm);
        match hookup {
            Hookup::Vented { at, high, .. } => Some(single(place, line(high, *at), measures)),
            Hookup::Barometer { at, .. } => {
                let diaphragm = LineModel::Tapped {
                    tap: *at,
                    diaphragm: *at,
                    fill: Fill::Liquid,
                };
                Some(single(place, diaphragm, measures))
            }
            Hookup::Differential {
                at,
                high,
                low,
                reversed,
                ..
            } => {
                let (high, low) = (line(high, *at), line(low, *at));
                let (high, low) = if *reversed { (low, high) } else { (high, low) };
                Some(Senses::Differential {
                    tank: place,
                    high,
                    low,
                })
            }
            Hookup::TwoTransmitter { bottom, headspace } => [bottom, headspace]
                .into_iter()
                .find(|port| port.transmitter == id)
                .map(|port| single(place, line(&port.leg, port.at), measures)),
            Hookup::ThreeTransmitter {
                bottom,
                middle,
                headspace,
                ..
            } => [bottom, middle, headspace]
                .into_iter()
                .find(|port| port.transmitter == id)
                .map(|port| single(place, line(&port.leg, port.at), measures)),
            Hookup::DipTube {
                at,
                tube_end,
                purge,
                low,
                ..
            } => {
                let top = top_of(tank);
                let tube = LineModel::Tapped {
                    tap: *tube_end,
                    diaphragm: *at,
                    fill: Fill::purge(purge, self.gas_pressure(tank, top), &self.air),
                };
                Some(match low {
                    Some(low) => Senses::Differential {
                        tank: place,
                        high: tube,
                        low: line(low, *at),
                    },
                    None => single(place, tube, measures),
                })
            }
            Hookup::Interface {
                at,
                high,
                low,
                lower,
                ..
            } => {
                // What is called the tank's own liquid is the lower one here.
                let line = |leg: &Leg| match &leg.fill {
                    LegFill::OwnLiquid => LineModel::Tapped {
                        tap: leg.tap,
                        diaphragm: *at,
                        fill: Fill::seal(
                            self.layer(tank, lower).0,
                            self.air.temperature,
                            &self.air,
                        ),
                    },
                    _ => self.line(tank, leg, *at),
                };
                Some(Senses::Differential {
                    tank: place,
                    high: line(high),
                    low: line(low),
                })
            }
            Hookup::Level { .. } => None,
        }
    }

    fn line(&self, tank: &TankPlan, leg: &Leg, diaphragm: Length) -> LineModel {
        let fill = match &leg.fill {
            LegFill::OwnLiquid => Fill::Liquid,
            LegFill::Gas => Fill::Gas,
            LegFill::Filled(fill) => match self.truth(tank).leg_density {
                Some(density) => Fill::Seal(density.value),
                None => Fill::seal(&fill.liquid, self.temperature(&fill.temperature), &self.air),
            },
        };
        LineModel::Tapped {
            tap: leg.tap,
            diaphragm,
            fill,
        }
    }

    /// What a flow transmitter of a stream shows: the flow in the script's pump or valve that has the name of the
    /// stream or its own tag; else all that comes in or is drawn, unless another stream that way is metered.
    fn metered(
        &self,
        place: usize,
        tank: &TankPlan,
        id: TransmitterId,
        plan: &TransmitterPlan,
    ) -> Option<Senses> {
        let is_metered = |flow: &StreamFlow| matches!(flow, StreamFlow::Metered(_));
        let mut streams = tank.streams.iter();
        let stream = streams.find(|stream| stream.flow == StreamFlow::Metered(id))?;
        let named = |name: &str| *stream.name == *name || *plan.tag == *name;
        let mut pipes = self.script.pipes.iter();
        if let Some(pipe) = pipes.position(|pipe| named(&pipe.name.name)) {
            return Some(Senses::PipeFlow { pipe });
        }
        let rivals = tank.streams.iter();
        let rivals = rivals.filter(|one| one.fills == stream.fills && is_metered(&one.flow));
        match (rivals.count(), stream.fills) {
            (1, true) => Some(Senses::Inflow { tank: place }),
            (1, false) => Some(Senses::Outflow { tank: place }),
            _ => None,
        }
    }

    /// One of the two liquids of an interface, and its temperature.
    pub(super) fn layer<'p>(
        &self,
        tank: &'p TankPlan,
        layer: &'p LegFill,
    ) -> (&'p Liquid, Temperature) {
        let plan = match layer {
            LegFill::Filled(plan) => plan,
            LegFill::OwnLiquid | LegFill::Gas => &tank.liquid,
        };
        (&plan.liquid, self.temperature(&plan.temperature))
    }

    /// What a pascal of its tank is to a transmitter: of one that shows a level, the column that it stands for.
    pub(super) fn per_pascal(&self, tank: &TankPlan, senses: &Senses) -> f64 {
        let Senses::Level { ranging, .. } = senses else {
            return 1.0;
        };
        let density = ranging.ranged_for.unwrap_or_else(|| {
            let at = Conditions {
                temperature: self.temperature(&tank.liquid.temperature),
                pressure: self.air.pressure,
            };
            tank.liquid.liquid.density(at).value
        });
        // h = p/(ρ·g)
        let per_pa_m = 1.0 / (density.value * self.site.plan.gravity.value);
        let range = ranging.full.map(|full| (full - ranging.zero).value);
        per_pa_m / range.unwrap_or(1.0)
    }
}

/// How a level hookup's transmitter comes to what it shows.
fn ranging(plan: &HookupPlan, id: TransmitterId, of: &TransmitterPlan) -> Option<Ranging> {
    match plan.hookup {
        Hookup::Level {
            transmitter,
            zero,
            full,
            ranged_for,
        } if transmitter == id => Some(Ranging {
            zero: zero.unwrap_or(Length::default()),
            full: full.filter(|_| in_percent(of)),
            ranged_for,
        }),
        _ => None,
    }
}

fn is_tag(source: &Source, id: TransmitterId) -> bool {
    matches!(source, Source::Tags(tags) if tags.contains(&id))
}

fn single(tank: usize, line: LineModel, measures: Measures) -> Senses {
    let diaphragm = match line {
        LineModel::Tapped { diaphragm, .. } | LineModel::OpenToAir { diaphragm } => diaphragm,
    };
    match measures {
        Measures::Gauge => Senses::Gauge { tank, line },
        Measures::Absolute => Senses::Absolute { tank, line },
        Measures::SealedGauge(sealed_at) => Senses::SealedGauge {
            tank,
            line,
            sealed_at,
        },
        Measures::Differential => Senses::Differential {
            tank,
            high: line,
            low: LineModel::OpenToAir { diaphragm },
        },
    }
}
