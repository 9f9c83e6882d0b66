//! Rounds on a running tank: entries held against the readings of their moments, what they say of jumps, and
//! what drifts they find.

use crate::rig::Rig;
use standpipe::engine::command::{EntryRefusal, Looked, NewEntry, SeenAt, Surface};
use standpipe::engine::{Command, EventKind, Fault, Reason, Refusal};
use standpipe::quantity::{kilograms_per_cubic_metre, metres};
use std::time::Duration;

/// A closed vessel with a wet leg: DP = g·(ρ·h − ρ_leg·6 m), zero at the tank's bottom.
pub const WET_LEG: &str = r#"
[site]
name = "Alder Rise"

[[link]]
name = "skid-a"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "LT-101"
link = "skid-a"
register = "input 0"
type = "f32"
unit = "kPa"
span = ["-65 kPa", "10 kPa"]
accuracy = "0.1 kPa"

[[tank]]
name = "clearwell"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "6 m" }
liquid = { kind = "constant", density = "1000 kg/m3", uncertainty = "1 kg/m3" }
gas = { density = "1.2 kg/m3", pressure = "20 kPa(g)" }
hookup = { kind = "differential", transmitter = "LT-101", at = "0 m", high = { tap = "0 m" }, low = { tap = "6 m", leg = { kind = "constant", density = "1080 kg/m3" } } }
"#;

/// What rounds and jumps are held to.
const CHECKS: &str = r#"
[tank.checks]
jump = { fill_at_most = "40 m3/h", draw_at_most = "60 m3/h" }
sight_glass = { tolerance = "25 mm", every = "8 h", zero_at = "0.5 m", length = "5 m" }

[tank.dip]
point_at = "6.2 m"
"#;

fn site() -> String {
    WET_LEG.to_owned() + CHECKS
}

pub fn sight(level_m: f64) -> NewEntry {
    NewEntry {
        looked: Looked::Sight {
            level: metres(level_m),
            blown_down: true,
        },
        seen: SeenAt::Now,
        uncertainty: None,
    }
}

fn dip(surface: Surface) -> NewEntry {
    NewEntry {
        looked: Looked::Dip {
            surface,
            water_cut: None,
            density: Some(kilograms_per_cubic_metre(990.0)),
        },
        seen: SeenAt::Now,
        uncertainty: None,
    }
}

fn enter(rig: &mut Rig, entry: NewEntry) -> Result<String, Refusal> {
    let done = rig.command(Command::Enter {
        tank: "clearwell".into(),
        entry,
        reader: None,
        by: "Ada".into(),
    });
    done.map(|done| done.0)
}

fn refused(rig: &mut Rig, entry: NewEntry) -> EntryRefusal {
    match enter(rig, entry) {
        Err(Refusal::Entry { why, .. }) => why,
        other => panic!("{other:?}"),
    }
}

/// So many polls of a level, a second apart.
fn at_level(rig: &mut Rig, seconds: usize, level_m: f64) {
    let reads = rig.pressure_pa("clearwell", level_m) / 1e3;
    rig.poll(seconds, &[("LT-101", reads)]);
}

#[test]
fn an_entry_is_held_against_the_reading_and_journalled() {
    let mut rig = Rig::start(&site());
    at_level(&mut rig, 30, 3.012);
    let said = enter(&mut rig, sight(2.5)).expect("it is taken");
    assert_eq!(
        said,
        "clearwell: sight glass 2.500 m, blown down: level 3.000 m ± 10 mm; the reading was 3.012 m, 12 mm above it"
    );
    let said = enter(&mut rig, dip(Surface::Ullage(metres(3.15)))).expect("it is taken");
    assert!(
        said.contains("dip, ullage 3.150 m, density 990.0 kg/m3: level 3.050 m ± 4 mm"),
        "{said}"
    );
    assert!(
        said.contains("38 mm below it, which is MORE than the 25 mm"),
        "{said}"
    );
    assert!(
        said.contains("takes 1000.0 kg/m3, +1.01 % from the sample"),
        "{said}"
    );
    let told = rig.of_kind(EventKind::Entry);
    assert_eq!(told.len(), 2);
    assert_eq!(told[1].person.as_deref(), Some("Ada"));
    assert_eq!(told[1].code.as_deref(), Some("dip"));
    let rounds = rig.tank("clearwell").rounds;
    assert_eq!(rounds.rows.len(), 2);
    let residual_m = rounds.rows[0].residual_m.expect("compared");
    assert!((residual_m - 0.012).abs() < 1e-6, "{residual_m}");
}

#[test]
fn what_cannot_have_been_seen_is_refused() {
    let mut rig = Rig::start(&site());
    at_level(&mut rig, 30, 3.0);
    assert!(matches!(
        refused(&mut rig, sight(5.2)),
        EntryRefusal::OutsideGlass { .. }
    ));
    assert!(matches!(
        refused(&mut rig, sight(f64::NAN)),
        EntryRefusal::OutsideGlass { .. }
    ));
    let deep = dip(Surface::Innage(metres(6.4)));
    assert!(matches!(
        refused(&mut rig, deep),
        EntryRefusal::OutsideVessel { .. }
    ));
    let nothing = dip(Surface::Innage(metres(f64::NAN)));
    assert_eq!(refused(&mut rig, nothing), EntryRefusal::NoNumber);
    for unsure in [0.0, -0.01, 3.0, f64::NAN] {
        let entry = NewEntry {
            uncertainty: Some(metres(unsure)),
            ..sight(2.5)
        };
        assert!(matches!(
            refused(&mut rig, entry),
            EntryRefusal::Uncertainty { .. }
        ));
    }
    let later = rig.now.utc + Duration::from_secs(600);
    let entry = NewEntry {
        seen: SeenAt::At(later),
        ..sight(2.5)
    };
    assert!(matches!(
        refused(&mut rig, entry),
        EntryRefusal::InFuture { .. }
    ));
    let mut rig = Rig::start(&site().replace("point_at = \"6.2 m\"", ""));
    let hung = dip(Surface::Ullage(metres(3.0)));
    assert_eq!(refused(&mut rig, hung), EntryRefusal::NoGaugePoint);
    assert!(rig.of_kind(EventKind::Entry).is_empty());
}

#[test]
fn an_entry_for_a_past_time_meets_the_reading_that_held_then() {
    let mut rig = Rig::start(&site());
    at_level(&mut rig, 600, 3.0);
    for step in 0..1000 {
        at_level(&mut rig, 1, 3.0 + f64::from(step) * 0.001);
    }
    at_level(&mut rig, 600, 4.0);
    let ago = |seconds| NewEntry {
        seen: SeenAt::Ago(Duration::from_secs(seconds)),
        ..sight(2.5)
    };
    let said = enter(&mut rig, ago(1900)).expect("it is taken");
    assert!(
        said.contains("the reading was 3.000 m, 0 mm above it"),
        "{said}"
    );
    let said = enter(&mut rig, ago(1100)).expect("it is taken");
    assert!(said.contains("the reading was 3.499 m"), "{said}");
    // 1 mm/s, and the minute is all that was written down: 60 mm/√3, k = 2.
    assert!(said.contains("level 3.000 m ± 70 mm"), "{said}");
    assert!(matches!(
        refused(&mut rig, ago(9000)),
        EntryRefusal::Forgotten { .. }
    ));
    // The link was down then: there is nothing to compare it with.
    rig.miss(600, "LT-101");
    at_level(&mut rig, 60, 4.0);
    let said = enter(&mut rig, ago(300)).expect("it is taken");
    assert!(
        said.ends_with("there is no reading of that moment to compare it with"),
        "{said}"
    );
    let rows = &rig.tank("clearwell").rounds.rows;
    let times: Vec<_> = rows.iter().map(|row| row.entry.time).collect();
    assert!(times.is_sorted(), "{times:?}");
}

#[test]
fn a_glass_that_did_not_move_makes_a_jump_an_artefact() {
    let mut rig = Rig::start(&site());
    at_level(&mut rig, 120, 3.0);
    at_level(&mut rig, 10, 3.3);
    assert!(rig.has("clearwell", Reason::ImplausibleJump));
    let said = enter(&mut rig, sight(2.5)).expect("it is taken");
    assert!(
        said.ends_with("the jump is an artefact: the liquid did not move"),
        "{said}"
    );
    at_level(&mut rig, 6, 3.3);
    let tank = rig.tank("clearwell");
    assert_eq!(
        tank.jump.as_ref().map(|jump| jump.verdict.name()),
        Some("artefact by the sight glass")
    );
    let again = enter(&mut rig, sight(2.5)).expect("it is taken");
    assert!(
        again.ends_with("still not moved with the reading"),
        "{again}"
    );
    assert_eq!(rig.of_kind(EventKind::Jump).len(), 2, "found, and decided");
    let unsure = NewEntry {
        uncertainty: Some(metres(0.4)),
        ..sight(2.5)
    };
    let unsure = enter(&mut rig, unsure).expect("it is taken");
    assert!(unsure.ends_with("too uncertain to decide it"), "{unsure}");
    let faults: Vec<_> = tank
        .findings
        .iter()
        .map(|open| open.finding.sentence())
        .collect();
    assert!(
        faults[0].starts_with("probable reading jumped, level did not"),
        "{faults:?}"
    );
    assert!(rig.has("clearwell", Reason::ImplausibleJump));
    // What was lost comes back, and all is well.
    at_level(&mut rig, 30, 3.0);
    assert!(!rig.has("clearwell", Reason::ImplausibleJump));
}

#[test]
fn a_glass_that_moved_makes_a_jump_real_and_one_from_before_settles_nothing() {
    let mut rig = Rig::start(&site());
    at_level(&mut rig, 300, 3.0);
    at_level(&mut rig, 20, 3.3);
    let before = NewEntry {
        seen: SeenAt::Ago(Duration::from_secs(120)),
        ..sight(2.5)
    };
    enter(&mut rig, before).expect("it is taken");
    assert!(rig.has("clearwell", Reason::ImplausibleJump));
    let said = enter(&mut rig, sight(2.65)).expect("it is taken");
    assert!(said.contains("the jump stays open"), "{said}");
    let said = enter(&mut rig, sight(2.8)).expect("it is taken");
    assert!(said.ends_with("the jump is real and closed"), "{said}");
    at_level(&mut rig, 1, 3.3);
    assert!(!rig.has("clearwell", Reason::ImplausibleJump));
    let told = rig.of_kind(EventKind::Jump);
    let last = told.last().expect("it is told");
    assert!(
        last.text.starts_with("jump is over: the sight glass moved"),
        "{}",
        last.text
    );
    assert_eq!(last.person.as_deref(), Some("Ada"));
}

#[test]
fn an_overdue_round_is_told_once_even_while_nothing_is_read() {
    let mut rig = Rig::start(&site());
    at_level(&mut rig, 30, 3.0);
    enter(&mut rig, sight(2.5)).expect("it is taken");
    rig.fail("LT-101", Fault::NoAnswer);
    let due = rig.tank("clearwell").rounds.due.expect("every 8 h");
    for _ in 0..20 {
        rig.pass(1800.0);
        rig.tick();
    }
    let told = rig.of_kind(EventKind::Rounds);
    let [told] = told[..] else { panic!("{told:?}") };
    assert!(told.time >= due && told.time <= due + Duration::from_secs(1800));
    assert!(
        told.text.contains("every 8 h") && told.text.contains("by Ada"),
        "{}",
        told.text
    );
    assert!(rig.tank("clearwell").rounds.overdue);
    enter(&mut rig, sight(2.5)).expect("it is taken");
    assert!(!rig.tank("clearwell").rounds.overdue);
}

/// Entries against no reading are no part of the run that a shift is told by, nor do they take its entries away. What the
/// leg may have lost, a zero may be off by.
#[test]
fn a_shift_is_explained_by_leg_and_zero_and_corrected_from_its_own_entries() {
    let mut rig = Rig::start(&site());
    let mut look = |off_m: f64, reads: bool, level_m: f64| {
        rig.pass(8.0 * 3600.0);
        match reads {
            true => at_level(&mut rig, 30, level_m + off_m),
            false => rig.poll(30, &[("LT-101", f64::NAN)]),
        }
        enter(&mut rig, sight(level_m - 0.5)).expect("it is taken");
    };
    for level_m in [0.9, 4.1, 1.2, 3.0, 0.7, 2.0] {
        look(0.0, true, level_m);
    }
    for level_m in [1.0, 4.5, 0.8, 2.5] {
        look(0.1, true, level_m);
        look(0.1, false, 1.5);
    }
    let tank = rig.tank("clearwell");
    let mut found = tank.findings.iter().map(|open| &open.finding);
    let lost = found.find(|finding| finding.fault.name() == "wet leg lost");
    let evidence = &lost.expect("it is found").evidence;
    // 0.1 m·(1000 − 1.2)/(1080 − 1.2) = 92.6 mm; 0.1 m·998.8 kg/m³·9.80665 m/s² = 0.98 kPa
    for part in [
        "about 93 mm gone from the wet leg would explain it",
        "so would a zero off by +0.98 kPa",
    ] {
        assert!(evidence.contains(part), "{evidence}");
    }
    let [suggestion] = &tank.rounds.suggestions[..] else {
        panic!("{:?}", tank.rounds.suggestions);
    };
    assert_eq!(suggestion.entries, 4);
}

#[test]
fn three_entries_spread_in_level_suggest_a_correction() {
    let mut rig = Rig::start(&site());
    for (level_m, glass_m) in [(1.0, 0.520), (3.0, 2.541), (5.0, 4.561)] {
        at_level(&mut rig, 40, level_m);
        rig.command(Command::ConfirmLevel {
            tank: "clearwell".into(),
            by: "Ada".into(),
        })
        .ok();
        enter(&mut rig, sight(glass_m)).expect("it is taken");
        rig.pass(3600.0);
    }
    let suggestion = rig
        .tank("clearwell")
        .rounds
        .suggestions
        .first()
        .cloned()
        .expect("three entries");
    // entry = 1.01·reading + 0.010 m, by the three points.
    assert!((suggestion.gain - 1.01025).abs() < 1e-4, "{suggestion:?}");
    assert!(
        (suggestion.offset_m - 0.0099).abs() < 1e-3,
        "{suggestion:?}"
    );
    assert!(suggestion.worth_it && suggestion.gain_standard_error.is_some());
    assert!(
        suggestion
            .text
            .starts_with("correction = { gain = 1.01025, offset = \""),
        "{}",
        suggestion.text
    );
}

/// Two transmitters in one open tank.
const TWO: &str = r#"
[site]
name = "Alder Rise"

[[link]]
name = "skid-a"
tcp  = "127.0.0.1:1502"

[[transmitter]]
tag      = "LT-1"
link     = "skid-a"
register = "input 0"
type     = "f64"
unit     = "kPa"
accuracy = "0.1 kPa"

[[transmitter]]
tag      = "LT-2"
link     = "skid-a"
register = "input 4"
type     = "f64"
unit     = "kPa"
accuracy = "0.1 kPa"

[[tank]]
name   = "clearwell"
vessel = { shape = "rectangular", length = "5 m", width = "2 m", height = "6 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
hookup = [
  { name = "east", kind = "vented", transmitter = "LT-1", at = "0 m" },
  { name = "west", kind = "vented", transmitter = "LT-2", at = "0 m" },
]
choose = { level = "mean", disagree = { by = "500 mm", for = "60 s" } }

[tank.checks]
sight_glass = { tolerance = "25 mm" }
"#;

/// Each is corrected by what it said itself, whatever the tank's reading was made of: "west" says 1.02·h + 50 mm, so
/// h = (said − 50 mm)/1.02.
#[test]
fn of_several_hookups_each_has_a_correction_of_its_own() {
    let mut rig = Rig::start(TWO);
    for level_m in [1.0, 3.0, 5.0] {
        let [east_kpa, west_kpa] = [level_m, 1.02 * level_m + 0.05]
            .map(|said_m| rig.pressure_pa("clearwell", said_m) / 1e3);
        rig.poll(10, &[("LT-1", east_kpa), ("LT-2", west_kpa)]);
        enter(&mut rig, sight(level_m)).expect("it is taken");
        rig.pass(3600.0);
    }
    let suggestions = rig.tank("clearwell").rounds.suggestions.clone();
    let [east, west] = &suggestions[..] else {
        panic!("{suggestions:?}");
    };
    assert_eq!(east.hookup.as_deref(), Some("east"));
    assert!(
        (east.gain - 1.0).abs() < 1e-9 && east.offset_m.abs() < 1e-9,
        "{east:?}"
    );
    assert!(!east.worth_it, "{east:?}");
    assert_eq!(west.hookup.as_deref(), Some("west"));
    assert_eq!(
        west.text,
        "correction = { gain = 0.98039, offset = \"-49.0 mm\" }"
    );
    assert!(west.worth_it, "{west:?}");
    // Put into the site file it leaves both alike.
    let corrected = TWO.replace(
        r#"transmitter = "LT-2", at = "0 m" "#,
        &format!(r#"transmitter = "LT-2", at = "0 m", {} "#, west.text),
    );
    let mut rig = Rig::start(&corrected);
    let [east_kpa, west_kpa] = [2.0, 2.09].map(|said_m| rig.pressure_pa("clearwell", said_m) / 1e3);
    rig.poll(10, &[("LT-1", east_kpa), ("LT-2", west_kpa)]);
    let level_m = rig.level_m("clearwell").expect("it is read");
    assert!((level_m - 2.0).abs() < 1e-4, "{level_m}");
}
