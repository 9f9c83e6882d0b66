//! What a jump beyond the possible flow most likely is, by the evidence of the moment; and a reading that no
//! intact lines give.

use super::jump::JumpVerdict;

/// How near to 1 the ratio of the two pressure changes must be to be one and the same change.
/// Common practice, no source.
pub const SAME_PRESSURE: f64 = 0.3;
/// How near a ratio must be to one of the factors below.
const SAME_FACTOR: f64 = 0.01;
/// How near a step must be to what the whole leg is worth.
const SAME_LEG: f64 = 0.05;
/// A difference that is left after this share of the step is none.
const NO_DIFFERENCE: f64 = 0.02;
/// Below this a number's ratio says nothing, Pa. Common practice, no source.
const LEAST_PA: f64 = 200.0;

/// What a number is off by where its unit was taken for another, or its words were: mbar for inH2O, cm for
/// in, kPa for psi, kPa for mH2O, decimals, psi for bar, kPa for bar, Pa for inH2O, the high word for the low.
const FACTORS: [f64; 9] = [
    2.491, 2.54, 6.895, 9.807, 10.0, 14.5, 100.0, 249.1, 65_536.0,
];

/// What the transmitter felt, as far as a verdict needs it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Felt {
    /// Between the two ports of one transmitter; none where each side has its own.
    pub ports_pa: Option<f64>,
    /// The value of the transmitter on the liquid, SI.
    pub value: Option<f64>,
    /// What a wet low leg is worth, all of it, Pa.
    pub leg_pa: Option<f64>,
}

/// From the sample before the jump to the one after, with the changes between the means around it.
pub fn of(before: Felt, felt: Felt, pressure_pa: f64, headspace_pa: Option<f64>) -> JumpVerdict {
    // The same pressure on one side only: with it (low side dead or open), or against it (high side dead).
    let explains =
        |change_pa: f64| (change_pa.abs() / pressure_pa.abs() - 1.0).abs() <= SAME_PRESSURE;
    if headspace_pa.is_some_and(explains) {
        return JumpVerdict::PressureArtefact;
    }
    let gone = |pa: f64| pa.abs() <= NO_DIFFERENCE * pressure_pa.abs();
    if felt.ports_pa.is_some_and(gone) && before.ports_pa.is_some_and(|pa| pa.abs() > LEAST_PA) {
        return JumpVerdict::EqualiserOpen;
    }
    let is_leg = |leg_pa: f64| (pressure_pa / leg_pa - 1.0).abs() <= SAME_LEG;
    if felt.leg_pa.is_some_and(is_leg) {
        return JumpVerdict::LegLost;
    }
    match before.value.zip(felt.value) {
        Some((before, after)) if is_factor(before, after) => JumpVerdict::UnitOrWords,
        _ => JumpVerdict::Unexplained,
    }
}

/// Whether one number is the other by one of the factors.
pub fn is_factor(before: f64, after: f64) -> bool {
    if before.abs().max(after.abs()) < LEAST_PA || before * after <= 0.0 {
        return false;
    }
    let ratio = (before / after).max(after / before);
    FACTORS
        .iter()
        .any(|factor| (ratio / factor - 1.0).abs() <= SAME_FACTOR)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(before: Felt, after: Felt, pressure_pa: f64) -> JumpVerdict {
        of(before, after, pressure_pa, None)
    }

    fn ports(pa: f64) -> Felt {
        Felt {
            ports_pa: Some(pa),
            value: Some(pa),
            leg_pa: Some(58_800.0),
        }
    }

    #[test]
    fn a_difference_that_is_gone_is_an_open_equaliser() {
        let to_zero = judged(ports(-30_000.0), ports(15.0), 30_015.0);
        assert_eq!(to_zero, JumpVerdict::EqualiserOpen);
        let elsewhere = judged(ports(-30_000.0), ports(-5_000.0), 25_000.0);
        assert_eq!(elsewhere, JumpVerdict::Unexplained);
    }

    #[test]
    fn a_step_of_the_whole_leg_is_a_lost_leg() {
        let lost = judged(ports(-30_000.0), ports(28_500.0), 58_500.0);
        assert_eq!(lost, JumpVerdict::LegLost);
    }

    #[test]
    fn a_number_off_by_a_factor_is_a_unit_or_its_words() {
        let value = |value: f64| Felt {
            value: Some(value),
            ..Felt::default()
        };
        for factor in FACTORS {
            for (before, after) in [(20_000.0, 20_000.0 * factor), (20_000.0 * factor, 20_100.0)] {
                let verdict = judged(value(before), value(after), after - before);
                assert_eq!(verdict, JumpVerdict::UnitOrWords, "{factor}");
            }
        }
        for ratio in [0.5, 1.2, 2.0, 3.0, 7.5, 20.0, -10.0] {
            assert!(!is_factor(20_000.0, 20_000.0 * ratio), "{ratio}");
        }
    }
}
