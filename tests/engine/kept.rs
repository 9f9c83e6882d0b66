//! What is kept of a working against the same made from nothing, over chance readings of every hookup.

use proptest::prelude::*;
use standpipe::engine::TransmitterId;
use standpipe::engine::plan::{HookupPlan, Plan, TankPlan};
use standpipe::engine::signal::SignalValue;
use standpipe::engine::tank::{Again, Signals, Working};
use standpipe::physics::budget::Budget;
use std::path::Path;
use std::sync::LazyLock;

/// Every kind of hookup, on open and closed tanks, with fixed and measured conditions.
static PLANS: LazyLock<Vec<Plan>> = LazyLock::new(|| {
    let files = ["config/alder-rise.toml", "config/alder-rise-hookups.toml"];
    let read = |file| standpipe::site::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(file));
    let sites = files.map(|file| read(file).unwrap_or_else(|problems| panic!("{problems}")));
    sites.into_iter().map(|site| site.plan).collect()
});

/// What each transmitter of a site says.
struct Said(Vec<SignalValue>);

impl Signals for Said {
    fn value(&self, transmitter: TransmitterId) -> SignalValue {
        self.0[transmitter.index()]
    }

    fn last(&self, transmitter: TransmitterId) -> Option<f64> {
        self.value(transmitter).value
    }
}

/// One more reading: which of the hookup's own or of all transmitters, and how far along its range; none: it falls
/// silent.
type Turn = (bool, prop::sample::Index, Option<f64>);

fn turns() -> impl Strategy<Value = Vec<Turn>> {
    let along = prop_oneof![8 => (-0.1..1.1).prop_map(Some), 1 => Just(None)];
    let turn = (
        prop::bool::weighted(0.8),
        any::<prop::sample::Index>(),
        along,
    );
    prop::collection::vec(turn, 1..40)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn what_is_kept_is_what_would_be_made(turns in turns()) {
        for plan in PLANS.iter() {
            for tank in &plan.tanks {
                for hookup in &tank.hookups {
                    agree(plan, tank, hookup, &turns)?;
                }
            }
        }
    }
}

fn agree(
    plan: &Plan,
    tank: &TankPlan,
    hookup: &HookupPlan,
    turns: &[Turn],
) -> Result<(), TestCaseError> {
    let own: Vec<TransmitterId> = hookup.hookup.transmitters().collect();
    let begins = |place: usize| SignalValue::stated(along(plan, place, 0.5));
    let mut said = Said((0..plan.transmitters.len()).map(begins).collect());
    let mut again = Again::default();
    for (is_own, which, share) in turns {
        let place = match is_own {
            true => own[which.index(own.len())].index(),
            false => which.index(plan.transmitters.len()),
        };
        said.0[place] = match share {
            Some(share) => SignalValue::stated(along(plan, place, *share)),
            None => SignalValue::default(),
        };
        let (kept, _) = again.working(plan, tank, hookup, &said, None);
        let kept = *kept;
        let mut budget = Budget::default();
        let made = Working::with_budget(plan, tank, hookup, &said, None, &mut budget);
        let name = (&tank.name, &hookup.name);
        // Slopes by differences are rounded at some 1e-9 of themselves; all else is the same to the bit.
        let uncertainty = made.uncertainty;
        prop_assert_eq!(
            format!(
                "{:?}",
                Working {
                    uncertainty,
                    ..kept
                }
            ),
            format!("{made:?}"),
            "{:?}",
            name
        );
        for (kept, made) in [
            (kept.uncertainty.level.value, made.uncertainty.level.value),
            (kept.uncertainty.volume.value, made.uncertainty.volume.value),
            (kept.uncertainty.mass.value, made.uncertainty.mass.value),
        ] {
            let is_same = (kept - made).abs() <= 1e-7 * made.abs() + 1e-15;
            prop_assert!(is_same, "{:?}: {} kept, {} made", name, kept, made);
        }
        budget.sort();
        let names = |budget: &Budget| {
            let mut names: Vec<_> = budget.lines().iter().map(|line| line.input).collect();
            names.sort_unstable();
            names
        };
        prop_assert_eq!(names(&again.budget()), names(&budget), "{:?}", name);
    }
    Ok(())
}

/// A value of a transmitter's range in SI units.
fn along(plan: &Plan, place: usize, share: f64) -> f64 {
    let transmitter = &plan.transmitters[place];
    let (low, high) = transmitter
        .span
        .or(transmitter.limits)
        .unwrap_or((0.0, 1.0));
    low + (high - low) * share
}
