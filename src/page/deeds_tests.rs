//! What forms become, without a page around them.

use super::*;
use crate::engine::Snapshot;
use crate::engine::snapshot::Horn;
use crate::people::Visitor;
use crate::quantity::{Dimension, Timestamp, Unit, find};
use crate::site::settings::ShowUnits;
use jiff::tz::TimeZone;
use std::time::Duration;

/// Of a site without anything in it.
fn view() -> View {
    let unit = |symbol, dimension| -> &'static Unit { find(symbol, dimension).expect("a unit") };
    View {
        snapshot: Arc::new(Snapshot {
            up: Duration::ZERO,
            utc: Timestamp::UNIX_EPOCH,
            site: "Alder Rise".into(),
            site_folded: "alder-rise".into(),
            links: Vec::new(),
            transmitters: Vec::new(),
            contacts: Vec::new(),
            tanks: Vec::new(),
            horn: Horn::default(),
            notices: Default::default(),
            tests: Vec::new(),
            system: Vec::new(),
            gone: Vec::new(),
        }),
        shown: crate::page::Shown {
            units: ShowUnits {
                level: unit("m", Dimension::Length),
                volume: unit("m3", Dimension::Volume),
                pressure: unit("kPa", Dimension::Pressure),
                temperature: unit("degC", Dimension::Temperature),
                flow: unit("m3/h", Dimension::Flow),
                mass: unit("t", Dimension::Mass),
            },
            zone: TimeZone::UTC,
        },
        who: Visitor::default(),
        age: Duration::ZERO,
        whole: true,
        place: None,
        said: None,
        returned: None,
        open: true,
        simulated: false,
        round_trips: Arc::default(),
    }
}

/// The fields at which something is wrong.
fn wrong(deed: &str, sent: &Sent) -> Vec<&'static str> {
    let troubles = request(deed, sent, &view()).expect_err("something is wrong");
    let fields = troubles.iter().filter_map(|trouble| trouble.field);
    fields.collect()
}

#[test]
fn an_acknowledgement_names_what_it_answers() {
    assert!(request("acknowledge", &Sent::default(), &view()).is_err());
    let sent = Sent::from([("activation", "17")]);
    let asked = request("acknowledge", &sent, &view()).expect("it names one");
    assert!(matches!(
        asked,
        Request::Ack {
            activation: Some(17),
            ..
        }
    ));
}

#[test]
fn an_empty_place_is_everywhere() {
    let asked = request("silence", &Sent::default(), &view()).expect("a request");
    assert!(matches!(asked, Request::Silence { place: None, .. }));
    assert!(request("open-the-gates", &Sent::default(), &view()).is_err());
}

#[test]
fn an_entry_is_that_of_the_command() {
    let sent = Sent::from([
        ("tank", "clearwell"),
        ("level", "3.41"),
        ("level_unit", "m"),
        ("at", "2026-03-04T14:05"),
        ("uncertainty", "5"),
        ("uncertainty_unit", "mm"),
        ("reader", " Ben "),
        ("blown_down", "yes"),
    ]);
    let Ok(Request::Sight(form)) = request("sight", &sent, &view()) else {
        panic!("an entry");
    };
    assert_eq!((form.tank.as_str(), form.level_m), ("clearwell", 3.41));
    assert_eq!(form.uncertainty_m, Some(0.005));
    assert_eq!(
        form.at,
        Some("2026-03-04T14:05:00Z".parse().expect("a time"))
    );
    assert_eq!(form.reader.as_deref(), Some("Ben"));
    assert!(form.blown_down && form.by.is_empty());

    let sent = Sent::from([
        ("way", "ullage"),
        ("surface", "2.84 m"),
        ("density", "998 kg/m3"),
    ]);
    let Ok(Request::Dip(form)) = request("dip", &sent, &view()) else {
        panic!("a dip");
    };
    assert_eq!((form.innage_m, form.ullage_m), (None, Some(2.84)));
    assert_eq!((form.density_kg_m3, form.water_cut_m), (Some(998.0), None));
}

#[test]
fn all_that_is_wrong_with_an_entry_is_told() {
    let sent = Sent::from([("level", ""), ("at", "noon"), ("uncertainty", "little")]);
    assert_eq!(wrong("sight", &sent), ["level", "at", "uncertainty"]);
    let sent = Sent::from([("surface", "3.4 kg"), ("density", "998 m")]);
    assert_eq!(wrong("dip", &sent), ["surface", "way", "density"]);
}
