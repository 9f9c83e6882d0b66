//! Every public JSON form and its schema.
//!
//! What always holds: units stand in key names, times are RFC 3339 in UTC, a number that is not known (or
//! not finite) is `null`, every key is always present, and quality is among them wherever there is a
//! measured value. One form serves MQTT, the HTTP interface and `--json`.

pub mod alarm;
pub mod check;
pub mod command;
pub mod contact;
pub mod entered;
pub mod event;
pub mod figures;
pub mod finding;
pub mod heartbeat;
pub mod hookup;
pub mod live_test;
pub mod name;
pub mod notice;
pub mod quality;
pub mod reading;
pub mod rehearsal;
pub mod replay;
pub mod rounds;
pub mod said;
pub mod schema;
pub mod signal;
pub mod status;
pub mod tank;
pub mod transfer;
pub mod work;

pub use alarm::AlarmForm;
pub use check::{AdviceForm, CheckForm, PlacedForm};
pub use command::{Answer, Request};
pub use contact::ContactForm;
pub use event::EventForm;
pub use figures::FiguresForm;
pub use finding::{AbilityForm, FindingForm};
pub use heartbeat::HeartbeatForm;
pub use hookup::HookupForm;
pub use live_test::{AlarmTestForm, TestForm};
pub use notice::NoticeForm;
pub use quality::QualityForm;
pub use reading::ReadingForm;
pub use rehearsal::RehearsalForm;
pub use replay::ReplayForm;
pub use rounds::{EntriesForm, RoundsForm};
pub use signal::SignalForm;
pub use status::{OwnedAlarmForm, StatusForm};
pub use tank::TankForm;
pub use transfer::TransferForm;
pub use work::{HornForm, WorkForm};

use crate::quantity::Timestamp;

/// RFC 3339, UTC, milliseconds: `2026-03-04T05:06:07.890Z`.
pub fn time(moment: Timestamp) -> String {
    format!("{moment:.3}")
}

/// JSON has no NaN and no infinity; what is not finite is not known.
fn known(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_utc_to_the_millisecond() {
        let moment: Timestamp = "2026-03-04T06:06:07.8901+01:00".parse().expect("a time");
        assert_eq!(time(moment), "2026-03-04T05:06:07.890Z");
    }

    #[test]
    fn what_is_not_finite_is_not_known() {
        assert_eq!(
            [f64::NAN, f64::INFINITY, f64::NEG_INFINITY].map(known),
            [None; 3]
        );
        assert_eq!(known(-0.5), Some(-0.5));
    }
}
