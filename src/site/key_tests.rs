//! Every key of the site file: said what it is, and asked for.

use super::file::Document;
use super::key::{Form, Need};
use super::tests::{CONTACT, PATH, east, text, with};
use super::{check, keys};
use std::collections::BTreeSet;
use std::path::Path;

/// A key that stands in the list as supported but that no check asks for would be ignored silently.
#[test]
fn every_supported_key_is_asked_for() {
    let mut asked = BTreeSet::new();
    let texts = [
        text(),
        with(
            "gravity  = { latitude = \"51.2 deg\", elevation = \"140 m\" }",
            "gravity = { value = \"9.81 m/s2\", uncertainty = \"0.001 m/s2\" }",
        ),
        with(
            "kind     = \"air\"\npressure = \"PT-201\"",
            "molar_mass = \"29 g/mol\"\ntemperature = \"TT-101\"",
        ),
        with(
            "kind     = \"air\"\npressure = \"PT-201\"",
            "density = \"1.2 kg/m3\"",
        ),
        with(
            "broker        =",
            "user = \"a\"\npassword = { env = \"A\" }\nbroker =",
        ),
        with(
            "headspace = { transmitter = \"PT-204B\", at = \"4.10 m\" }",
            "headspace = { transmitter = \"PT-204B\", at = \"4.10 m\", tap = \"4.05 m\", leg = \"gas\" }",
        ),
        with(
            "[tank.measurement_failed]\n",
            "[tank.measurement_failed]\npriority = \"low\"\n",
        ),
        with(
            "jump = {}",
            "jump = { fill_at_most = \"400 m3/h\", draw_at_most = \"450 m3/h\" }",
        ),
        text() + "[commands]\nsocket = \"a.sock\"\n" + super::notice_tests::NOTICES,
        east(),
        east().replace(
            "{ molar_mass = \"28 g/mol\" }",
            "{ density = \"1.3 kg/m3\" }",
        ),
        with(
            "height   = \"5.0 m\"\nbottom   = { head = \"cone\", depth = \"0.30 m\" }",
            "height   = \"5.0 m\"\nbottom   = { head = \"torisphere\", dish_radius = \"8 m\", knuckle_radius = \"0.5 m\" }\n\
             deadwood = [{ from = \"1 m\", to = \"2 m\", volume = \"0.1 m3\" }]\n\
             shell = { expansion = \"12e-6 /K\", reference = \"20 degC\" }",
        ),
        with(
            "height   = \"5.0 m\"\nbottom   = { head = \"cone\", depth = \"0.30 m\" }",
            "height   = \"5.0 m\"\nbottom   = { head = \"torisphere\", standard = \"asme-fd\" }",
        ),
        with(
            "shape  = \"rectangular\"\nlength = \"6.0 m\"\nwidth  = \"4.0 m\"\nheight = \"3.2 m\"",
            "shape = \"frusta\"\nsections = [{ height = \"3.2 m\", lower = \"4 m\", upper = \"5 m\" }]",
        ),
        text() + CONTACT,
        super::stream_tests::SITE.to_owned()
            + "[tank.checks]\nfrozen = { after = \"10 min\" }\nidle = { when = \"P-1 off\", moves_at_most = \"5 L/h\" }\n",
        with(
            "jump = {}",
            "jump = {}\nsight_glass = { tolerance = \"25 mm\", every = \"8 h\", zero_at = \"0.4 m\", length = \"4 m\", temperature = \"ambient\" }\n[tank.dip]\nplate_at = \"0.02 m\"\npoint_at = \"5.2 m\"",
        ),
        super::stream_tests::SITE.to_owned(),
        super::stream_tests::with_products() + super::stream_tests::SYSTEM,
    ];
    for text in texts.into_iter().chain(super::liquid_tests::texts()) {
        let document = Document::parse(&text, Path::new(PATH), keys::KEYS);
        assert!(
            check::site(&document, &text).is_some(),
            "{}",
            document.problems().expect("refused")
        );
        asked.extend(document.asked());
    }
    let supported = keys::KEYS.iter().filter(|key| key.is_here);
    let ignored: Vec<String> = supported
        .filter(|key| !asked.contains(&(key.table, key.name)))
        .map(|key| format!("{} of [{}]", key.name, key.table))
        .collect();
    assert!(ignored.is_empty(), "nobody asks for {ignored:?}");
}

#[test]
fn every_key_says_what_it_is() {
    let tables: BTreeSet<&str> = keys::KEYS.iter().map(|key| key.table).collect();
    for key in keys::KEYS.iter().filter(|key| key.is_here) {
        assert!(!key.about.is_empty(), "{} of [{}]", key.name, key.table);
        if let Form::Table(table)
        | Form::Tables(table)
        | Form::TableOrTables(table)
        | Form::TextOrTable(table) = key.form
        {
            // One that only has to be there has no keys.
            let is_bare = key.example == "{}";
            assert!(tables.contains(table) != is_bare, "no key of [{table}]");
        } else {
            let example = format!("{} = {}", key.name, key.example);
            assert!(example.parse::<toml::Table>().is_ok(), "{example}");
        }
        if let (Need::Default(text), Form::Quantity(dimension)) = (key.need, key.form) {
            assert!(
                crate::quantity::parse(text, dimension).is_ok(),
                "{} of [{}]",
                key.name,
                key.table
            );
        }
    }
}
