//! What is in a tank, as a person says it.

use crate::rig::{Rig, high, start_of_time};
use standpipe::engine::{Command, EventKind, Reason};
use std::time::Duration;

const LIQUID: &str = "[tank.liquid]\nkind = \"constant\"\ndensity = \"1000 kg/m3\"\n";
/// Two liquids; one metre of the second weighs 0.8 m of the first.
const PRODUCTS: &str = r#"
[[tank.product]]
name = "water"
liquid = { kind = "constant", density = "1000 kg/m3" }
[[tank.product]]
name = "spirit"
liquid = { kind = "constant", density = "800 kg/m3" }
"#;

fn text(products: &str, alarms: &str) -> String {
    Rig::text(LIQUID, products, alarms)
}

fn rig(alarms: &str) -> Rig {
    Rig::of(&text(PRODUCTS, alarms), None, start_of_time())
}

fn choose(rig: &mut Rig, product: &str) -> Result<String, String> {
    rig.ask(Command::ChooseProduct {
        tank: "clearwell".into(),
        product: product.into(),
        by: "Ada".into(),
    })
}

fn level(rig: &Rig) -> f64 {
    rig.tank().reading.level.expect("a level").value
}

#[test]
fn the_first_product_is_taken_until_a_person_chooses() {
    let mut rig = rig("");
    rig.at(2.0, 10);
    assert_eq!(rig.tank().product.as_deref(), Some("water"));
    // ρ = 1000 kg/m³ under air of 1.2 kg/m³: the level stands 0.12 % higher than the column of water says
    assert!((level(&rig) - 2.0).abs() < 0.005, "{}", level(&rig));
    let said = choose(&mut rig, "spirit").expect("done");
    assert!(
        said.starts_with("clearwell holds spirit, was water"),
        "{said}"
    );
    assert_eq!(rig.tank().product.as_deref(), Some("spirit"));
    let event = rig.last();
    assert_eq!(event.kind, EventKind::Product);
    assert_eq!(event.person.as_deref(), Some("Ada"));
    assert!(
        event.text.contains("+500 mm") || event.text.contains("+501 mm"),
        "{}",
        event.text
    );
    rig.at(2.0, 1);
    // 2 m · 1000/800
    assert!((level(&rig) - 2.5).abs() < 0.005, "{}", level(&rig));
}

#[test]
fn the_step_is_no_jump_and_alarms_are_judged_at_once() {
    let jump = "[tank.checks]\njump = { fill_at_most = \"10 m3/h\", draw_at_most = \"10 m3/h\" }\n";
    let alarms = high("").replace("3 m", "2.4 m");
    let mut rig = rig(&format!("{alarms}{jump}"));
    rig.at(2.0, 30);
    choose(&mut rig, "spirit").expect("done");
    assert_eq!(rig.state("LAH"), "UNACK");
    rig.at(2.0, 30);
    let jumps = rig
        .events
        .iter()
        .filter(|event| event.kind == EventKind::Jump);
    assert_eq!(jumps.count(), 0);
    assert!(!rig.tank().reading.reasons.has(Reason::ImplausibleJump));
}

#[test]
fn what_was_chosen_survives_a_restart() {
    let mut rig = rig("");
    rig.at(2.0, 10);
    choose(&mut rig, "spirit").expect("done");
    let later = rig
        .now
        .utc
        .checked_add(Duration::from_secs(60))
        .expect("a time");
    let mut again = Rig::of(&text(PRODUCTS, ""), Some(rig.memory()), later);
    again.at(2.0, 10);
    assert_eq!(again.tank().product.as_deref(), Some("spirit"));
    assert!((level(&again) - 2.5).abs() < 0.005);
}

#[test]
fn a_product_that_is_gone_is_told_and_doubted_until_somebody_chooses() {
    let mut before = rig("");
    before.at(2.0, 10);
    choose(&mut before, "spirit").expect("done");
    let renamed = text(&PRODUCTS.replace("spirit", "brine"), "");
    let later = before
        .now
        .utc
        .checked_add(Duration::from_secs(60))
        .expect("a time");
    let mut rig = Rig::of(&renamed, Some(before.memory()), later);
    rig.at(2.0, 10);
    let told = rig
        .events
        .iter()
        .find(|event| event.kind == EventKind::Product);
    assert_eq!(
        told.map(|event| &*event.text),
        Some("spirit is gone from the site file; water is taken until somebody chooses")
    );
    assert!(rig.tank().reading.reasons.has(Reason::ProductNotConfirmed));
    // The same one can be confirmed.
    choose(&mut rig, "water").expect("done");
    rig.at(2.0, 1);
    assert!(!rig.tank().reading.reasons.has(Reason::ProductNotConfirmed));
    let mut again = Rig::of(&renamed, Some(rig.memory()), rig.now.utc);
    again.at(2.0, 10);
    assert!(
        !again
            .tank()
            .reading
            .reasons
            .has(Reason::ProductNotConfirmed)
    );
}

#[test]
fn what_makes_no_sense_is_refused() {
    let mut many = rig("");
    let refused = |rig: &mut Rig, product| choose(rig, product).expect_err("refused");
    assert_eq!(
        refused(&mut many, "oil"),
        "tank \"clearwell\" has no product \"oil\"; the site file has water, spirit"
    );
    assert_eq!(refused(&mut many, "water"), "clearwell holds water already");
    let mut one = Rig::new("");
    assert!(refused(&mut one, "oil").contains("one liquid only"));
    assert!(one.remembered.is_empty() && many.remembered.is_empty());
}

#[test]
fn a_correction_past_its_last_day_is_doubted() {
    let correction = "kind = \"vented\"\ncorrection = { offset = \"12 mm\", by = \"Ada\", until = \"2026-03-04\" }";
    let text = Rig::text("kind = \"vented\"", correction, "");
    let late = "2026-03-04T23:59:50Z".parse().expect("a time");
    let mut rig = Rig::of(&text, None, late);
    rig.at(2.0, 5);
    let overdue = |rig: &Rig| rig.tank().reading.reasons.has(Reason::CorrectionOverdue);
    assert!(!overdue(&rig));
    assert!((level(&rig) - 2.012).abs() < 0.005);
    rig.at(2.0, 10);
    assert!(overdue(&rig));
}

#[test]
fn a_choice_explains_an_open_jump_and_says_so() {
    let jump = "[tank.checks]\njump = { fill_at_most = \"10 m3/h\", draw_at_most = \"10 m3/h\" }\n";
    let mut rig = rig(jump);
    rig.at(2.0, 30);
    rig.at(2.5, 20);
    assert!(rig.tank().jump.is_some());
    choose(&mut rig, "spirit").expect("done");
    assert!(rig.tank().jump.is_none());
    let told = rig.told(EventKind::Jump);
    assert_eq!(
        told.last(),
        Some(&"jump is over: a person said what is in the tank")
    );
}

#[test]
fn a_heavier_product_floods_no_dry_leg() {
    let vented = "kind = \"vented\"\ntransmitter = \"LT-101\"\nat = \"0 m\"\n";
    let dry = "kind = \"differential\"\ntransmitter = \"LT-101\"\nat = \"0 m\"\nhigh = { tap = \"0 m\" }\nlow = { tap = \"5 m\", leg = \"gas\" }\n";
    let text = text(PRODUCTS, "").replace(vented, dry);
    let mut rig = Rig::of(&text, None, start_of_time());
    rig.at(3.95, 10);
    choose(&mut rig, "spirit").expect("done");
    // Near the upper tap, and then 1 m below it: faster than any draw, were it the liquid that moves.
    rig.at(3.95, 10);
    assert!(level(&rig) > 4.9, "{}", level(&rig));
    choose(&mut rig, "water").expect("done");
    rig.at(3.95, 10);
    assert!((level(&rig) - 3.95).abs() < 0.01, "{}", level(&rig));
    assert!(!rig.tank().reading.reasons.has(Reason::LowLegFlooded));
    assert_eq!(rig.told(EventKind::Leg), [""; 0]);
}

#[test]
fn a_transfer_goes_on_and_the_step_is_not_counted_as_moved() {
    let mut rig = rig("");
    rig.at(1.0, 30);
    let target = standpipe::engine::TransferTo::Level(standpipe::quantity::metres(3.0));
    rig.ask(Command::Transfer {
        tank: "clearwell".into(),
        to: target,
        tell: Duration::from_secs(300),
        stop_within: Duration::from_secs(180),
        by: "Ada".into(),
    })
    .expect("begun");
    rig.at(1.4, 1);
    choose(&mut rig, "spirit").expect("done");
    let told = rig.told(EventKind::Transfer);
    let last = told.last().expect("told");
    assert!(
        last.starts_with(
            "goes on to the target 3.000 m; the step of the level is not counted as moved: 4.0"
        ),
        "{last}"
    );
    let transfer = rig.tank().transfer.expect("it goes on");
    assert_eq!(transfer.memory.product.as_deref(), Some("spirit"));
    // 4 m³ so far; 0.1 m of the column of water are 0.125 m of spirit on 10 m².
    rig.at(1.5, 1);
    let moved = rig.tank().transfer.expect("it goes on").moved;
    assert!(
        (moved.expect("known").value - 5.25).abs() < 0.02,
        "{moved:?}"
    );
}

#[test]
fn the_reading_tells_a_correction_and_its_author() {
    let correction = "kind = \"vented\"\ncorrection = { offset = \"12 mm\", by = \"Ada\", until = \"2027-03-04\" }";
    let mut rig = Rig::of(
        &Rig::text("kind = \"vented\"", correction, ""),
        None,
        start_of_time(),
    );
    rig.at(2.0, 5);
    let form = standpipe::wire::ReadingForm::of(&rig.tank());
    assert!(form.corrected);
    assert_eq!(form.corrected_by.as_deref(), Some("Ada"));
    assert_eq!(form.corrected_until.as_deref(), Some("2027-03-04"));
    let mut plain = Rig::new("");
    plain.at(2.0, 5);
    assert!(!standpipe::wire::ReadingForm::of(&plain.tank()).corrected);
}
