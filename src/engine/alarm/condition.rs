//! An alarm's condition: limit and deadband judged on a value, or on what is known of it from one side.

use crate::engine::plan::Limit;

/// What is known of a watched value: from below, from above, or, where both are the same, itself.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Known {
    pub at_least: Option<f64>,
    pub at_most: Option<f64>,
}

impl Known {
    pub const NOTHING: Known = Known {
        at_least: None,
        at_most: None,
    };

    pub fn exactly(value: f64) -> Self {
        Self {
            at_least: Some(value),
            at_most: Some(value),
        }
    }

    /// The same seen the other way round, for a quantity that falls as this one rises.
    pub fn negated(self, of: impl Fn(f64) -> f64) -> Self {
        Self {
            at_least: self.at_most.map(&of),
            at_most: self.at_least.map(of),
        }
    }

    pub fn map(self, of: impl Fn(f64) -> f64) -> Self {
        Self {
            at_least: self.at_least.map(&of),
            at_most: self.at_most.map(of),
        }
    }

    /// The wider of both: what holds wherever the value is in either.
    pub fn or(self, other: Self) -> Self {
        Self {
            at_least: self.at_least.zip(other.at_least).map(|(a, b)| a.min(b)),
            at_most: self.at_most.zip(other.at_most).map(|(a, b)| a.max(b)),
        }
    }
}

/// Whether the condition holds; `was` is what it was, which stands inside the deadband. None where
/// what is known decides nothing.
///
/// `above` comes true at value ≥ limit and goes false below limit − deadband; `below` is its mirror image.
pub fn judge(limit: Limit, deadband: f64, was: bool, known: Known) -> Option<bool> {
    match limit {
        Limit::Above(limit) => above(limit, deadband, was, known),
        Limit::Below(limit) => above(-limit, deadband, was, known.negated(|value| -value)),
        Limit::Outside(low, high) => {
            let too_high = above(high, deadband, was, known);
            let too_low = above(-low, deadband, was, known.negated(|value| -value));
            match (too_high, too_low) {
                (Some(true), _) | (_, Some(true)) => Some(true),
                (Some(false), Some(false)) => Some(false),
                _ => None,
            }
        }
        // Decided by the quality or by a contact, not by a value.
        Limit::BadQuality | Limit::Overdue | Limit::Is(_) => None,
    }
}

fn above(limit: f64, deadband: f64, was: bool, known: Known) -> Option<bool> {
    let is_above = known.at_least.is_some_and(|least| least >= limit);
    // Inside the deadband what was stands.
    let stays = was
        && known
            .at_least
            .is_some_and(|least| least >= limit - deadband);
    let is_clear = known.at_most.is_some_and(|most| {
        if was {
            most < limit - deadband
        } else {
            most < limit
        }
    });
    match (is_above || stays, is_clear) {
        (true, _) => Some(true),
        (_, true) => Some(false),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HIGH: Limit = Limit::Above(3.0);
    const LOW: Limit = Limit::Below(1.0);

    #[test]
    fn the_deadband_holds_what_was() {
        let at = |value, was| judge(HIGH, 0.1, was, Known::exactly(value));
        assert_eq!(at(2.99, false), Some(false));
        assert_eq!(at(3.0, false), Some(true));
        assert_eq!(at(2.95, true), Some(true));
        assert_eq!(at(2.89, true), Some(false));
    }

    #[test]
    fn below_is_the_mirror_image() {
        let at = |value, was| judge(LOW, 0.1, was, Known::exactly(value));
        assert_eq!(at(1.0, false), Some(true));
        assert_eq!(at(1.05, true), Some(true));
        assert_eq!(at(1.11, true), Some(false));
    }

    #[test]
    fn a_one_sided_reading_decides_where_its_bound_does() {
        let empty = Known {
            at_least: None,
            at_most: Some(0.3),
        };
        assert_eq!(judge(LOW, 0.0, false, empty), Some(true));
        assert_eq!(judge(HIGH, 0.0, true, empty), Some(false));
        assert_eq!(judge(Limit::Below(0.2), 0.0, false, empty), None);
        let full = Known {
            at_least: Some(6.0),
            at_most: None,
        };
        assert_eq!(judge(HIGH, 0.0, false, full), Some(true));
        assert_eq!(judge(LOW, 0.0, true, full), Some(false));
        assert_eq!(judge(Limit::Above(6.5), 0.0, false, full), None);
        let somewhere = Known {
            at_least: Some(2.5),
            at_most: Some(3.5),
        };
        assert_eq!(judge(HIGH, 0.1, false, somewhere), None);
        assert_eq!(judge(HIGH, 0.1, true, somewhere), None);
        assert_eq!(judge(HIGH, 0.6, true, somewhere), Some(true));
    }

    #[test]
    fn outside_is_either_side() {
        let at = |value, was| judge(Limit::Outside(1.0, 3.0), 0.1, was, Known::exactly(value));
        assert_eq!(at(0.9, false), Some(true));
        assert_eq!(at(2.0, false), Some(false));
        assert_eq!(at(3.1, false), Some(true));
        assert_eq!(at(2.95, true), Some(true));
        assert_eq!(at(2.5, true), Some(false));
    }
}
