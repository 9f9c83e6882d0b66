//! The documents of a rehearsal: a tank that overfills while its link fails, with one expectation that is not met.

use standpipe::quantity::Timestamp;
use standpipe::rehearsal::{Keep, Manner, Progress, Record, Rehearsed, Script, rehearse};
use standpipe::site::{Site, parse};
use std::path::Path;

/// Names with signs that XML and HTML must escape.
const SITE: &str = r#"
[site]
name = "Alder <Rise> & \"Sons\""

[[link]]
name = "skid-a"
tcp  = "127.0.0.1:1502"

[[transmitter]]
tag      = "PT-101"
link     = "skid-a"
register = "holding 0"
type     = "f32"
unit     = "kPa"
span     = ["0 kPa", "60 kPa"]
accuracy = "0.1 %"

[[tank]]
name   = "clearwell"
title  = "Clear <well>"
vessel = { shape = "upright-cylinder", diameter = "4.2 m", height = "6.0 m" }
marks  = { overflow = "5.90 m" }
liquid = { kind = "water", temperature = "12 degC" }
hookup = { kind = "vented", transmitter = "PT-101", at = "0.20 m", high = { tap = "0.30 m" } }

[[tank.alarm]]
code     = "LAH"
watch    = "level"
above    = "5.40 m"
deadband = "0.05 m"
on_delay = "3 s"
priority = "high"
response = "Close the inlet valve"

[[tank.alarm]]
code     = "LAL"
watch    = "level"
below    = "0.60 m"
deadband = "0.05 m"
priority = "high"
response = "Start the pump"
"#;

const SCRIPT: &str = r#"
site = "site.toml"
seed = 3
last = "00:01:00"

[[tank]]
name   = "clearwell"
level  = "5.38 m"
inflow = "200 m3/h"
true   = { noise = "0.003 kPa" }

[[at]]
time    = "00:00:16"
command = { ack = "clearwell LAH", by = "Ada <A>" }

[[at]]
time  = "00:00:20"
link  = "skid-a"
fault = { silent = "25 s" }

[[expect]]
alarm   = "clearwell LAH"
state   = "UNACK"
between = ["00:00:05", "00:00:15"]

[[expect]]
tank    = "clearwell"
quality = "bad"
before  = "00:00:50"

[[expect]]
no_event = "link"
"#;

fn rehearsed(scripts: &[Script], keep: Keep) -> (Site, Vec<Rehearsed>) {
    let site = parse(SITE, Path::new("site.toml")).unwrap_or_else(|problems| panic!("{problems}"));
    let all = rehearse(
        &site,
        scripts,
        Manner { jobs: 1, keep },
        &Progress::default(),
    );
    let all = all
        .into_iter()
        .map(|one| one.unwrap_or_else(|problems| panic!("{problems}")));
    let all = all.collect();
    (site, all)
}

fn script(text: &str) -> Script {
    Script::parse(text, Path::new("over<full>.toml"))
        .unwrap_or_else(|problems| panic!("{problems}"))
}

fn record(text: &str, keep: Keep) -> Record {
    let scripts = [script(text)];
    let (site, rehearsed) = rehearsed(&scripts, keep);
    let drawn_up: Timestamp = "2026-03-04T05:06:07Z".parse().expect("a time");
    Record::of(
        &site,
        (Path::new("site.toml"), SITE),
        &scripts,
        &rehearsed,
        drawn_up,
    )
}

fn signed_off(text: String) -> String {
    // The version is no part of what is compared.
    text.replace(
        concat!("Standpipe ", env!("CARGO_PKG_VERSION")),
        "Standpipe VERSION",
    )
}

#[test]
fn the_strip() {
    let (_, rehearsed) = rehearsed(&[script(SCRIPT)], Keep::Strips);
    insta::assert_snapshot!(rehearsed[0].strip.as_deref().expect("it was asked for"));
}

#[test]
fn a_strip_names_the_system_only_where_something_befell_it() {
    let before_it_fails = SCRIPT.find("[[at]]\ntime  =").expect("a link fails");
    let heading = "System, and the whole site";
    for (text, is_there) in [(SCRIPT, true), (&SCRIPT[..before_it_fails], false)] {
        let (_, rehearsed) = rehearsed(&[script(text)], Keep::Strips);
        let strip = rehearsed[0].strip.as_deref().expect("it was asked for");
        assert_eq!(strip.contains(heading), is_there, "{text}");
    }
}

#[test]
fn the_record_as_text() {
    insta::assert_snapshot!(signed_off(record(SCRIPT, Keep::Named).to_string()));
}

#[test]
fn the_record_as_html() {
    insta::assert_snapshot!(signed_off(record(SCRIPT, Keep::Named).html()));
}

#[test]
fn a_record_says_whether_it_passed() {
    let right = SCRIPT.replace("no_event = \"link\"", "no_event = \"jump\"");
    let begin = SCRIPT.find("[[expect]]").expect("it is there");
    for (text, says, never) in [
        (SCRIPT, "FAILED: 1 of 3 expectations not met", "PASSED"),
        (&right, "PASSED: 3 of 3 expectations met", "FAILED"),
        (
            &SCRIPT[..begin],
            "NOT TESTED: nothing is expected",
            "PASSED",
        ),
    ] {
        let record = record(text, Keep::Strips);
        for document in [record.to_string(), record.html()] {
            assert!(document.contains(says), "{says}:\n{document}");
            assert!(!document.contains(never), "{never}:\n{document}");
        }
    }
}

/// `printf abc | sha256sum`; the digest is the first example of FIPS 180-2, appendix B.1.
#[test]
fn files_are_named_by_their_sha_256() {
    let (site, _) = rehearsed(&[], Keep::Named);
    let drawn_up = Timestamp::UNIX_EPOCH;
    let record = Record::of(&site, (Path::new("site.toml"), "abc"), &[], &[], drawn_up);
    let sha256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert!(record.to_string().contains(sha256));
}

/// No script, nothing that is fetched, and no name that brings markup.
#[test]
fn documents_are_safe_and_stand_alone() {
    let record = record(SCRIPT, Keep::Strips);
    let (_, rehearsed) = rehearsed(&[script(SCRIPT)], Keep::Strips);
    let strip = rehearsed[0].strip.as_deref().expect("it was asked for");
    for document in [&record.html(), strip] {
        for never in ["<script", "<Rise>", "<well>", "<full>", "<A>", "@import"] {
            assert!(!document.contains(never), "{never}");
        }
        // But for the name of SVG.
        assert_eq!(document.matches("http").count(), 1);
    }
    assert!(record.html().contains("src=\"data:image/svg+xml,%3C%3Fxml"));
}
