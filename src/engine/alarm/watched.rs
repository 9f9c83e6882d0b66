//! What an alarm looks at: the watched value as far as a reading knows it, and the judgement on it.

use super::condition::{Known, judge};
use super::lifecycle::{Alarm, Judgement};
use crate::engine::forecast::HORIZON_S;
use crate::engine::plan::{AlarmPlan, TankPlan, Watch};
use crate::engine::quality::{Quality, Reason};
use crate::engine::reading::Reading;
use crate::engine::tank::usable_marks;
use crate::quantity::metres;

/// The watched value in SI units, where the reading has it.
pub fn value(tank: &TankPlan, reading: &Reading, watch: Watch) -> Option<f64> {
    match watch {
        Watch::Measurement | Watch::Transfer | Watch::Contact(_) | Watch::System(_) => None,
        _ => {
            let known = known(tank, reading, watch, level_of(reading));
            known.at_least.filter(|least| {
                known
                    .at_most
                    .is_some_and(|most| least.total_cmp(&most).is_eq())
            })
        }
    }
}

/// What there is to say of an alarm's condition.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Judged {
    /// None while the first data are waited for: nothing is decided.
    pub judgement: Option<Judgement>,
    /// The reading is within the limit, but where the level may be since a jump reaches beyond it.
    pub possible: bool,
}

impl From<Judgement> for Judged {
    fn from(judgement: Judgement) -> Self {
        Self {
            judgement: Some(judgement),
            possible: false,
        }
    }
}

/// Judges an alarm's condition on a reading; `plausible` is where the level can be while a jump is open:
/// then the safe side of both wins.
pub fn judgement(
    tank: &TankPlan,
    plan: &AlarmPlan,
    alarm: &Alarm,
    reading: &Reading,
    plausible: Option<Known>,
) -> Judged {
    if reading.reasons.has(Reason::WaitingForData) {
        return Judged::default();
    }
    if plan.watch == Watch::Measurement {
        return if reading.quality == Quality::Bad {
            Judgement::True.into()
        } else {
            Judgement::False.into()
        };
    }
    if matches!(
        plan.watch,
        Watch::Rate | Watch::NetFlow | Watch::TimeToOverflow
    ) && reading.rate.is_none()
        && reading.level.is_some()
    {
        // A rate takes a while to be known; until then there is nothing to decide or to doubt.
        return Judged::default();
    }
    let judged = |level: Known| {
        judge(
            plan.limit,
            plan.deadband,
            alarm.condition(),
            known(tank, reading, plan.watch, level),
        )
    };
    let raw = judged(level_of(reading));
    let other = plausible.map_or(raw, judged);
    let judgement = match (raw, other) {
        (Some(true), _) | (_, Some(true)) => Judgement::True,
        (Some(false), Some(false)) => Judgement::False,
        _ => Judgement::Undecided,
    };
    Judged {
        judgement: Some(judgement),
        possible: raw == Some(false) && other.is_none(),
    }
}

fn level_of(reading: &Reading) -> Known {
    match reading.level {
        Some(level) => Known::exactly(level.value),
        None => Known {
            at_least: reading.level_at_least.map(|level| level.value),
            at_most: reading.level_at_most.map(|level| level.value),
        },
    }
}

fn known(tank: &TankPlan, reading: &Reading, watch: Watch, level: Known) -> Known {
    let vessel = tank.vessel.at(reading.temperature);
    let volume = |level_m: f64| match (reading.level, reading.volume) {
        (Some(level), Some(volume)) if level.value.to_bits() == level_m.to_bits() => volume.value,
        _ => vessel.volume(metres(level_m) + tank.zero).value,
    };
    let density = reading.density.unwrap_or_default().value;
    let plain = |value: Option<f64>| value.map_or(Known::NOTHING, Known::exactly);
    match watch {
        Watch::Level => level,
        Watch::Volume => level.map(volume),
        Watch::Fill => {
            let (low, high, ..) = usable_marks(tank);
            let (low, high) = (volume(low.value), volume(high.value));
            level.map(|h| (volume(h) - low) / (high - low))
        }
        Watch::Mass => level.map(|h| density * volume(h)),
        Watch::Ullage => {
            let (.., overflow) = usable_marks(tank);
            level.negated(|h| (volume(overflow.value) - volume(h)).max(0.0))
        }
        Watch::Density => plain(
            reading
                .level
                .and(reading.density)
                .map(|density| density.value),
        ),
        Watch::Temperature => plain(reading.temperature.map(|temperature| temperature.value)),
        Watch::Rate => plain(reading.rate.map(|rate| rate.value)),
        Watch::NetFlow => plain(reading.net_flow.map(|flow| flow.value)),
        // While it does not clearly rise, it is at least as far away as a forecast reaches.
        Watch::TimeToOverflow => reading.time_to_overflow.map_or(
            Known {
                at_least: reading.rate.map(|_| HORIZON_S),
                at_most: None,
            },
            |time| Known::exactly(time.value),
        ),
        Watch::Uncertainty => plain(reading.level_uncertainty.map(|level| level.value)),
        Watch::Measurement | Watch::Transfer | Watch::Contact(_) | Watch::System(_) => {
            Known::NOTHING
        }
    }
}
