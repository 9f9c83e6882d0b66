//! The elevations of a hookup as inputs of the budget: taps, diaphragms, the zero of a range.

use super::{Inputs, Lines, shift};
use crate::engine::plan::Hookup;
use crate::engine::tank::{Signals, in_percent};
use crate::physics::budget::from_expanded;

impl<S: Signals> Lines<'_, S> {
    pub(super) fn elevations(&mut self) {
        let standard = from_expanded(self.one.place.hookup.elevation_uncertainty.value);
        let names = ElevationNames::of(&self.one.place.hookup.hookup);
        // In percent, its zero and full move together; in metres, the level that it shows stays.
        let leading =
            &self.one.place.plan.transmitters[self.one.place.hookup.hookup.leading().index()];
        let ranged = match in_percent(leading) {
            true => 0.0,
            false => self.one.basis.pressures.per_reading,
        };
        let mut add = |name: Option<&'static str>, shift: &dyn Fn(&mut Inputs, f64)| {
            if let Some(name) = name {
                self.add(name, standard, 0.01, shift);
            }
        };
        add(names.high_tap, &|inputs, step| {
            inputs.balance.high.tap.value += step;
        });
        add(names.low_tap, &|inputs, step| {
            inputs.balance.low.tap.value += step;
        });
        let both = names.low_diaphragm.is_none();
        add(names.high_diaphragm, &|inputs, step| {
            inputs.balance.high.diaphragm.value += step;
            inputs.balance.low.diaphragm.value += if both { step } else { 0.0 };
        });
        add(names.low_diaphragm, &|inputs, step| {
            inputs.balance.low.diaphragm.value += step;
        });
        add(names.middle_tap, &|inputs, step| {
            if let Some(column) = &mut inputs.column {
                column.upper.tap.value += step;
            }
        });
        add(names.middle_diaphragm, &|inputs, step| {
            if let Some(column) = &mut inputs.column {
                column.upper.diaphragm.value += step;
            }
        });
        add(names.zero, &|inputs, step| {
            inputs.balance.high.tap.value += step;
            inputs.balance.high.diaphragm.value += step;
            shift(inputs, -ranged * step, 0.0);
        });
    }
}

/// The elevations that a hookup has; one diaphragm serves both sides where the low one has no name.
#[derive(Clone, Copy, Default)]
struct ElevationNames {
    high_tap: Option<&'static str>,
    low_tap: Option<&'static str>,
    high_diaphragm: Option<&'static str>,
    low_diaphragm: Option<&'static str>,
    middle_tap: Option<&'static str>,
    middle_diaphragm: Option<&'static str>,
    zero: Option<&'static str>,
}

impl ElevationNames {
    fn of(hookup: &Hookup) -> Self {
        let usual = Self {
            high_tap: Some("high tap elevation"),
            low_tap: Some("low tap elevation"),
            high_diaphragm: Some("transmitter elevation"),
            ..Self::default()
        };
        let vent = Some("vent elevation");
        match hookup {
            Hookup::Differential { .. } | Hookup::Interface { .. } => usual,
            Hookup::Vented { .. } => Self {
                low_tap: vent,
                ..usual
            },
            Hookup::Barometer { .. } => Self {
                low_tap: vent,
                low_diaphragm: Some("barometer elevation"),
                ..usual
            },
            Hookup::TwoTransmitter { .. } => Self {
                low_diaphragm: Some("headspace transmitter elevation"),
                ..usual
            },
            Hookup::ThreeTransmitter { .. } => Self {
                low_diaphragm: Some("headspace transmitter elevation"),
                middle_tap: Some("middle tap elevation"),
                middle_diaphragm: Some("middle transmitter elevation"),
                ..usual
            },
            Hookup::DipTube { low, .. } => Self {
                high_tap: Some("tube end elevation"),
                low_tap: low.as_ref().map_or(vent, |_| usual.low_tap),
                ..usual
            },
            Hookup::Level { .. } => Self {
                zero: Some("zero elevation"),
                ..Self::default()
            },
        }
    }
}
