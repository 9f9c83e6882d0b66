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
