//! What is kept of a working against the same made from nothing, over chance readings of every hookup.

use proptest::prelude::*;
use standpipe::engine::plan::{HookupPlan, Plan, TankPlan};
use standpipe::engine::signal::SignalValue;
use standpipe::engine::tank::{Again, Signals, Working};
use standpipe::engine::{Reason, TransmitterId};
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

/// By how much of itself an uncertainty may differ.
const NEAR: f64 = 5e-3;

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

/// One more reading: which of the hookup's own or of all transmitters, and what it says.
type Turn = (bool, prop::sample::Index, Says);

#[derive(Clone, Copy, Debug)]
enum Says {
    /// So far along its range.
    Along(f64),
    /// So much of its range more than before.
    More(f64),
    /// The same, but it is old.
    Old,
    Nothing,
}

fn turns() -> impl Strategy<Value = Vec<Turn>> {
    let says = prop_oneof![
        8 => (-0.1..1.1).prop_map(Says::Along),
        8 => (-1e-3..1e-3).prop_map(Says::More),
        1 => Just(Says::Old),
        1 => Just(Says::Nothing),
    ];
    let turn = (
        prop::bool::weighted(0.5),
        any::<prop::sample::Index>(),
        says,
    );
    prop::collection::vec(turn, 1..40)
}

proptest! {
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
    for (is_own, which, says) in turns {
        let place = match is_own {
            true => own[which.index(own.len())].index(),
            false => which.index(plan.transmitters.len()),
        };
        let now = match (says, said.0[place].value) {
            (Says::Along(share), _) => Some(along(plan, place, *share)),
            (Says::More(by), Some(value)) => {
                Some(value + along(plan, place, *by) - along(plan, place, 0.0))
            }
            (Says::Old, before) => before,
            _ => None,
        };
        said.0[place] = now.map_or(SignalValue::default(), SignalValue::stated);
        if let (Says::Old, Some(_)) = (says, now) {
            said.0[place].reasons.add(Reason::LastValueKept);
        }
        let (kept, _) = again.working(plan, tank, hookup, &said, None);
        let kept = *kept;
        let mut budget = Budget::default();
        let made = Working::with_budget(plan, tank, hookup, &said, None, &mut budget);
        let name = (&tank.name, &hookup.name);
        // Sensitivities are those of conditions nearby; all else is the same to the bit.
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
            let is_same = (kept - made).abs() <= NEAR * made.abs() + 1e-15;
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
