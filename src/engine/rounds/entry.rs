//! What somebody saw at the sight glass or by tape, as it is asked to be entered, and the level that it means.
//!
//! A glass shows the tank's level only where what stands in it is as dense as what is in the tank:
//! h_tank = zero_at + h_glass·(ρ_glass − ρ_gas)/(ρ_tank − ρ_gas). An innage counts up from the plate, an ullage
//! down from the gauge point.

use crate::engine::memory::EntryWay;
use crate::engine::plan::TankPlan;
use crate::engine::tank::LIQUID_KG_M3;
use crate::quantity::{Length, MassDensity, Timestamp, metres};
use std::fmt;
use std::time::Duration;

/// Expanded uncertainty (k = 2) of an entry that says none: reading a glass, and a tape. Common practice, no
/// source; a tape is read to 1 mm or 1/8 in.
const GLASS_UNCERTAINTY_M: f64 = 0.010;
const TAPE_UNCERTAINTY_M: f64 = 0.004;
/// The largest that is taken, k = 2: beyond it nothing was measured. Common practice, no source.
const LARGEST_UNCERTAINTY_M: f64 = 0.5;

/// What is to be entered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NewEntry {
    pub looked: Looked,
    pub seen: SeenAt,
    /// k = 2.
    pub uncertainty: Option<Length>,
}

/// When it was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SeenAt {
    Now,
    At(Timestamp),
    Ago(Duration),
}

/// How somebody looked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Looked {
    /// At the sight glass, by its own scale.
    Sight { level: Length, blown_down: bool },
    /// As a level of the tank, in a list of readings that somebody kept.
    Level(Length),
    /// With a tape.
    Dip {
        surface: Surface,
        /// Height of free water at the bottom.
        water_cut: Option<Length>,
        /// Of a sample, at the tank's temperature.
        density: Option<MassDensity>,
    },
}

/// Where a tape met the liquid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Surface {
    Innage(Length),
    Ullage(Length),
}

/// Why an entry is not taken.
#[derive(Clone, Debug, PartialEq)]
pub enum EntryRefusal {
    InFuture {
        at: Timestamp,
        now: Timestamp,
    },
    /// The reading of that time is not known any more; or never was, in this run.
    Forgotten {
        at: Timestamp,
        now: Timestamp,
    },
    NoNumber,
    OutsideGlass {
        shown: Length,
        length: Length,
    },
    OutsideVessel {
        level: Length,
        low: Length,
        high: Length,
    },
    NoGaugePoint,
    Uncertainty {
        at_most: Length,
    },
    WaterAboveSurface,
    Density,
    Reader {
        at_most: usize,
    },
}

impl NewEntry {
    pub fn way(&self) -> EntryWay {
        match self.looked {
            Looked::Sight { .. } | Looked::Level(_) => EntryWay::Sight,
            Looked::Dip { .. } => EntryWay::Dip,
        }
    }

    /// Standard uncertainty, k = 1.
    pub fn sigma_m(&self) -> Result<f64, EntryRefusal> {
        let otherwise = match self.looked {
            Looked::Sight { .. } | Looked::Level(_) => GLASS_UNCERTAINTY_M,
            Looked::Dip { .. } => TAPE_UNCERTAINTY_M,
        };
        let expanded_m = self.uncertainty.map_or(otherwise, |given| given.value);
        if expanded_m > 0.0 && expanded_m <= LARGEST_UNCERTAINTY_M {
            return Ok(expanded_m / crate::physics::budget::COVERAGE);
        }
        Err(EntryRefusal::Uncertainty {
            at_most: metres(LARGEST_UNCERTAINTY_M),
        })
    }

    /// The tank's level by it. `denser`: (ρ_glass − ρ_gas)/(ρ_tank − ρ_gas).
    pub fn level(&self, tank: &TankPlan, denser: f64) -> Result<Length, EntryRefusal> {
        let plan = &tank.rounds;
        let level = match self.looked {
            Looked::Sight { level, .. } => {
                if let Some(length) = plan.glass.length
                    && !(metres(0.0)..=length).contains(&level)
                {
                    return Err(EntryRefusal::OutsideGlass {
                        shown: level,
                        length,
                    });
                }
                plan.glass.zero_at + level * denser
            }
            Looked::Level(level) => level,
            Looked::Dip { surface, .. } => match surface {
                Surface::Innage(innage) => plan.dip.plate_at + innage,
                Surface::Ullage(ullage) => {
                    plan.dip.point_at.ok_or(EntryRefusal::NoGaugePoint)? - ullage
                }
            },
        };
        if !level.value.is_finite() {
            return Err(EntryRefusal::NoNumber);
        }
        let (low, high) = (
            tank.vessel.bottom() - tank.zero,
            tank.vessel.top() - tank.zero,
        );
        if level < low || level > high {
            return Err(EntryRefusal::OutsideVessel { level, low, high });
        }
        self.check_dip(tank, level)?;
        Ok(level)
    }

    fn check_dip(&self, tank: &TankPlan, level: Length) -> Result<(), EntryRefusal> {
        let Looked::Dip {
            water_cut, density, ..
        } = self.looked
        else {
            return Ok(());
        };
        let cut = water_cut.map(|cut| tank.rounds.dip.plate_at + cut);
        if cut.is_some_and(|cut| !(tank.rounds.dip.plate_at..=level).contains(&cut)) {
            return Err(EntryRefusal::WaterAboveSurface);
        }
        if density.is_some_and(|density| !LIQUID_KG_M3.contains(&density.value)) {
            return Err(EntryRefusal::Density);
        }
        Ok(())
    }

    /// As it was seen: "sight glass 3.410 m, blown down".
    pub fn words(&self) -> String {
        match self.looked {
            Looked::Sight { level, blown_down } => {
                let blown = if blown_down { ", blown down" } else { "" };
                format!("sight glass {:.3} m{blown}", level.value)
            }
            Looked::Level(level) => format!("read by hand {:.3} m", level.value),
            Looked::Dip {
                surface,
                water_cut,
                density,
            } => {
                let mut words = match surface {
                    Surface::Innage(innage) => format!("dip, innage {:.3} m", innage.value),
                    Surface::Ullage(ullage) => format!("dip, ullage {:.3} m", ullage.value),
                };
                if let Some(cut) = water_cut {
                    words += &format!(", water cut {:.3} m", cut.value);
                }
                if let Some(density) = density {
                    words += &format!(", density {:.1} kg/m3", density.value);
                }
                words
            }
        }
    }
}

impl fmt::Display for EntryRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EntryRefusal::InFuture { at, now } => {
                write!(f, "{at:.0} is yet to come: it is {now:.0}")
            }
            EntryRefusal::Forgotten { at, .. } => write!(
                f,
                "the reading of {at:.0} is not known any more: they are kept for a day, and not over a restart. Write it down with `standpipe note`"
            ),
            EntryRefusal::NoNumber => write!(f, "that is no level"),
            EntryRefusal::OutsideGlass { shown, length } => write!(
                f,
                "{:.3} m is not on the scale of the glass, which is {:.3} m long and counts from its own zero",
                shown.value, length.value
            ),
            EntryRefusal::OutsideVessel { level, low, high } => write!(
                f,
                "{:.3} m is outside of the vessel, which holds levels from {:.3} m to {:.3} m",
                level.value, low.value, high.value
            ),
            EntryRefusal::NoGaugePoint => write!(
                f,
                "the site file does not say where its ullages hang from: [tank.dip] point_at = \"6.25 m\""
            ),
            EntryRefusal::Uncertainty { at_most } => write!(
                f,
                "an uncertainty is more than 0, and {:.1} m at most",
                at_most.value
            ),
            EntryRefusal::WaterAboveSurface => {
                write!(
                    f,
                    "the water cut must lie between the plate and the surface"
                )
            }
            EntryRefusal::Reader { at_most } => {
                write!(f, "the name of who saw it has {at_most} characters at most")
            }
            EntryRefusal::Density => write!(
                f,
                "no liquid has that density: {:.0} to {:.0} kg/m3",
                LIQUID_KG_M3.start(),
                LIQUID_KG_M3.end()
            ),
        }
    }
}
