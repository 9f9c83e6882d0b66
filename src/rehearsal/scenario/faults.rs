//! What is wrong with a tank or transmitter of a script, as faults of the plant's transmitters, lines and gas.

use super::Scene;
use crate::engine::TransmitterId;
use crate::engine::plan::{Hookup, Leg, LegFill, Measures, Reads, TankPlan};
use crate::plant::{Fault, Side};
use crate::quantity::Dimension;
use crate::rehearsal::script::{Action, Ailment, Placed};
use crate::rehearsal::timeline::Deed;
use crate::site::problem::Problem;
use crate::site::settings::NumberType;
use std::ops::Range;
use std::time::Duration;

impl Scene<'_> {
    /// What an ailment comes to, each with what mends it.
    pub(super) fn faults(&self, action: &Action) -> Vec<(Deed, Deed)> {
        let (faults, over) = match action {
            Action::TankFault { tank, fault, over } => {
                let Some(place) = self.tank_place(tank) else {
                    return Vec::new();
                };
                let plan = &self.site.plan.tanks[place];
                if let Ailment::Headspace(of_gas) = fault.value {
                    let (tank, fault) = (place, of_gas);
                    self.check_headspace(plan, action);
                    let inflict = Deed::InflictHeadspace { tank, fault };
                    return vec![(inflict, Deed::MendHeadspace { tank, fault })];
                }
                (self.tank_faults(plan, fault), *over)
            }
            Action::TransmitterFault { transmitter, fault } => {
                let place = self.transmitter_place(transmitter);
                let fault = place.and_then(|place| self.transmitter_fault(place, fault));
                (fault.into_iter().collect(), Duration::ZERO)
            }
            _ => (Vec::new(), Duration::ZERO),
        };
        let deeds = faults.into_iter().map(|(transmitter, fault)| {
            let inflict = Deed::Inflict {
                transmitter,
                fault,
                over,
            };
            (inflict, Deed::Mend { transmitter, fault })
        });
        deeds.collect()
    }

    fn refuse(&self, place: &Range<usize>, message: String, cure: &str) {
        self.report(Problem::new(place.clone(), message).cure(cure));
    }

    /// Only a gas that is closed in can be short of its blanket or leak.
    fn check_headspace(&self, plan: &TankPlan, action: &Action) {
        let Action::TankFault { fault, .. } = action else {
            return;
        };
        let start = self.start(plan).and_then(|start| start.gas.as_ref());
        let (blanket, vent) = start.map_or((false, false), |gas| {
            (gas.value.blanket.is_some(), gas.value.vent.is_some())
        });
        use crate::plant::HeadspaceFault::{BlanketLost, Leak, VentBlocked};
        let name = &plan.name;
        let (wrong, cure) = match fault.value {
            Ailment::Headspace(BlanketLost) if !blanket => (
                format!("tank \"{name}\" has no blanket"),
                "give it one in its [[tank]]: gas = { blanket = \"20 kPa(g)\" }",
            ),
            Ailment::Headspace(Leak(_)) if start.is_none() => (
                format!("tank \"{name}\" has no gas of its own that could leak"),
                "say in its [[tank]] that gas is closed in: gas = {}",
            ),
            Ailment::Headspace(VentBlocked) if !vent && !plan.is_open() => (
                format!("tank \"{name}\" has no vent"),
                "give it one in its [[tank]]: gas = { vent = \"35 kPa(g)\" }",
            ),
            _ => return,
        };
        self.refuse(&fault.place, wrong, cure);
    }

    fn tank_faults(&self, plan: &TankPlan, fault: &Placed<Ailment>) -> Vec<(usize, Fault)> {
        let hookup = &plan.hookups[0].hookup;
        let sides = Sides::of(hookup);
        let refuse = |why: &str, cure: &str| {
            self.refuse(&fault.place, format!("tank \"{}\" {why}", plan.name), cure);
            Vec::new()
        };
        let filled = |leg: &Leg| matches!(leg.fill, LegFill::Filled(_));
        let dry = |leg: &Leg| matches!(leg.fill, LegFill::Gas);
        let low_where = |is_it: &dyn Fn(&Leg) -> bool| sides.low.filter(|low| is_it(low.2));
        let is_dip_tube = matches!(hookup, Hookup::DipTube { .. });
        match fault.value {
            Ailment::Plugged { low: true, .. } if sides.low.is_none() => {
                refuse("has no low side that could plug", "plug its \"high\" side")
            }
            Ailment::Plugged {
                high,
                low,
                lag_s,
                stiffness_pa,
            } => {
                let plug = |side| match lag_s {
                    Some(lag_s) => Fault::Lag(side, lag_s),
                    None if stiffness_pa > 0.0 => Fault::PluggedStiff(side, stiffness_pa),
                    None => Fault::Plugged(side),
                };
                sides.each(high, low, plug)
            }
            Ailment::Freezes(below_k) => {
                let freezes = |side| Fault::Freezes(side, below_k);
                let wet = sides.low.is_some_and(|low| !dry(low.2));
                sides.each(true, wet, freezes)
            }
            Ailment::WetLegLost(height) | Ailment::WetLegOverfilled(height) => {
                match low_where(&filled) {
                    Some((id, side, _)) => {
                        let height_m = height.value;
                        let fault = match fault.value {
                            Ailment::WetLegLost(_) => Fault::LegLost(side, height_m),
                            _ => Fault::Overfilled(side, height_m),
                        };
                        vec![(id.index(), fault)]
                    }
                    None => refuse(
                        "has no wet low leg with a fill of its own",
                        "name a tank whose low leg is filled",
                    ),
                }
            }
            Ailment::Condensate(_) | Ailment::LowLegFlooded => match low_where(&dry) {
                Some((id, side, _)) => {
                    // A line holds no more than its own height.
                    let height_m = match fault.value {
                        Ailment::Condensate(height) => height.value,
                        _ => f64::INFINITY,
                    };
                    vec![(id.index(), Fault::Condensate(side, height_m))]
                }
                None => refuse(
                    "has no dry low leg that condensate could stand in",
                    "name a tank whose low leg is dry",
                ),
            },
            Ailment::Gas(Side::Low, height) => match low_where(&|leg| !dry(leg)) {
                Some((id, side, _)) => vec![(id.index(), Fault::Gas(side, height.value))],
                None => refuse(
                    "has no low leg with liquid that gas could stand in",
                    "name side = \"high\", or a tank whose low leg is filled",
                ),
            },
            Ailment::Gas(Side::High, height) => {
                let (id, side) = sides.high;
                vec![(id.index(), Fault::Gas(side, height.value))]
            }
            Ailment::PurgeLost(_) | Ailment::TubePlugged(_) if !is_dip_tube => {
                refuse("has no dip tube", "name a tank whose hookup is a dip tube")
            }
            Ailment::PurgeLost(time_s) => vec![(sides.high.0.index(), Fault::PurgeLost(time_s))],
            Ailment::TubePlugged(rate) => vec![(sides.high.0.index(), Fault::TubePlugged(rate))],
            Ailment::Equaliser(_) if !has_equaliser(hookup) => refuse(
                "has no equaliser",
                "name a tank with a differential transmitter",
            ),
            _ => self
                .transmitter_fault(sides.high.0.index(), fault)
                .into_iter()
                .collect(),
        }
    }

    /// By its register alone: not-a-number, a failure current, or a number that the site knows to mean it.
    fn can_say_failure(&self, place: usize) -> bool {
        let plan = &self.site.plan.transmitters[place];
        let mut points = self.site.links.iter().flat_map(|link| &link.points);
        let point = points.find(|point| point.transmitter.index() == place);
        let floats =
            point.is_none_or(|point| matches!(point.number, NumberType::F32 | NumberType::F64));
        floats || plan.loop_current.is_some() || !plan.failed.is_empty()
    }

    fn transmitter_fault(&self, place: usize, fault: &Placed<Ailment>) -> Option<(usize, Fault)> {
        let plan = &self.site.plan.transmitters[place];
        let refuse = |why: &str, cure: &str| {
            self.refuse(&fault.place, format!("{} {why}", plan.tag), cure);
            None
        };
        let fault = match fault.value {
            Ailment::Frozen => Fault::Frozen,
            Ailment::Nan if !self.can_say_failure(place) => {
                return refuse(
                    "has an integer register, which can't tell that it is no number",
                    "say in the site file which number means failure: failed = [-32768]; or let its link answer an exception",
                );
            }
            Ailment::Nan => Fault::Failed,
            Ailment::FailedHigh | Ailment::FailedLow if plan.loop_current.is_none() => {
                return refuse(
                    "has no loop current that could leave its band",
                    "write fault = { nan = true }",
                );
            }
            Ailment::FailedHigh => Fault::Failed,
            Ailment::FailedLow => Fault::FailedLow,
            Ailment::Equaliser(passing) => Fault::Equaliser(passing),
            Ailment::ReferenceBlocked => match plan.reads {
                Reads::Pressure(Measures::Gauge) => Fault::ReferenceBlocked,
                _ => {
                    return refuse(
                        "does not count from the outside air",
                        "name a gauge transmitter",
                    );
                }
            },
            Ailment::Drift {
                per_second,
                dimension,
            } => {
                let is_of_it = matches!(
                    (plan.reads, dimension),
                    (Reads::Pressure(_), Dimension::Pressure)
                        | (Reads::Temperature, Dimension::TemperatureDifference)
                );
                if !is_of_it {
                    return refuse(
                        "does not read that",
                        "a pressure drifts by a pressure, a temperature by kelvin",
                    );
                }
                Fault::Drift(per_second)
            }
            Ailment::Scaled(times) => Fault::Scaled(times),
            Ailment::Plugged { .. }
            | Ailment::WetLegLost(_)
            | Ailment::WetLegOverfilled(_)
            | Ailment::Condensate(_)
            | Ailment::LowLegFlooded
            | Ailment::Gas(..)
            | Ailment::Freezes(_)
            | Ailment::PurgeLost(_)
            | Ailment::TubePlugged(_)
            | Ailment::Headspace(_) => return None,
        };
        Some((place, fault))
    }
}

/// Which line of which transmitter is a tank's high and low side, as the site file names them.
struct Sides<'p> {
    high: (TransmitterId, Side),
    low: Option<(TransmitterId, Side, &'p Leg)>,
}

impl<'p> Sides<'p> {
    fn of(hookup: &'p Hookup) -> Self {
        let (high, low) = match hookup {
            Hookup::Differential {
                transmitter,
                low,
                reversed: true,
                ..
            } => (Side::Low, Some((*transmitter, Side::High, low))),
            Hookup::Differential {
                transmitter, low, ..
            }
            | Hookup::Interface {
                transmitter, low, ..
            }
            | Hookup::DipTube {
                transmitter,
                low: Some(low),
                ..
            } => (Side::High, Some((*transmitter, Side::Low, low))),
            Hookup::TwoTransmitter { headspace, .. }
            | Hookup::ThreeTransmitter { headspace, .. } => (
                Side::High,
                Some((headspace.transmitter, Side::High, &headspace.leg)),
            ),
            Hookup::Vented { .. }
            | Hookup::Barometer { .. }
            | Hookup::DipTube { .. }
            | Hookup::Level { .. } => (Side::High, None),
        };
        Self {
            high: (hookup.leading(), high),
            low,
        }
    }

    /// A fault of the high side's line, of the low side's, or of both.
    fn each(&self, high: bool, low: bool, fault: impl Fn(Side) -> Fault) -> Vec<(usize, Fault)> {
        let sides = [
            high.then_some(self.high),
            self.low.filter(|_| low).map(|low| (low.0, low.1)),
        ];
        let sides = sides.into_iter().flatten();
        sides.map(|(id, side)| (id.index(), fault(side))).collect()
    }
}

/// Whether its manifold joins two ports of one transmitter.
fn has_equaliser(hookup: &Hookup) -> bool {
    matches!(
        hookup,
        Hookup::Differential { .. }
            | Hookup::Interface { .. }
            | Hookup::DipTube { low: Some(_), .. }
    )
}
