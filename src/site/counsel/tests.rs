//! Every rule with a site that it speaks of, and one right beside it that it leaves alone.

use super::{Findings, Heard, advise};
use crate::engine::TransmitterId;
use crate::site::{Site, parse};
use std::path::Path;

const PATH: &str = "site.toml";

/// An upright tank of 2 m, so that 1 m is π m³; 36 m³/h are 0.01 m³/s in and out.
const TANK: &str = r#"
[site]
name = "Alder Rise"
gravity = "9.81 m/s2"

[[link]]
name = "skid"
tcp = "127.0.0.1:1502"

[[transmitter]]
tag = "LT-1"
link = "skid"
register = "input 0"
type = "f32"
unit = "kPa"
span = ["0 kPa", "60 kPa"]
accuracy = "0.1 %"
damping = "1 s"

[[tank]]
name = "north"
vessel = { shape = "upright-cylinder", diameter = "2 m", height = "5 m" }
marks = { critical_high = "4.5 m", working_high = "3.5 m", working_low = "1.5 m", critical_low = "0.5 m" }
liquid = { kind = "constant", density = "1000 kg/m3" }
hookup = { kind = "vented", transmitter = "LT-1", at = "0 m" }

[[tank.stream]]
name = "inlet"
direction = "in"
at_most = "36 m3/h"

[[tank.stream]]
name = "outlet"
direction = "out"
at_most = "36 m3/h"
"#;

/// An alarm of good practice with a limit.
fn alarm(code: &str, limit: &str) -> String {
    alarm_on("level", code, limit)
}

fn alarm_on(watch: &str, code: &str, limit: &str) -> String {
    format!(
        "\n[[tank.alarm]]\ncode = \"{code}\"\nwatch = \"{watch}\"\n{limit}\nresponse = \"Close the inlet valve\"\n"
    )
}

const LAH: &str = "above = \"4.0 m\"\ndeadband = \"0.1 m\"";
const LAL: &str = "below = \"1.0 m\"\ndeadband = \"0.1 m\"";

fn read(text: &str) -> Site {
    match parse(text, Path::new(PATH)) {
        Ok(site) => site,
        Err(problems) => panic!("{problems}"),
    }
}

fn findings(text: &str) -> Findings {
    advise(&read(text), text, Path::new(PATH), None)
}

/// The names of the rules that speak, in the order of the file.
fn rules(text: &str) -> Vec<&'static str> {
    findings(text).iter().map(|finding| finding.rule).collect()
}

/// Of the tank with alarms.
fn of(alarms: &[String]) -> Vec<&'static str> {
    rules(&format!("{TANK}{}", alarms.concat()))
}

const NONE: [&str; 0] = [];

#[test]
fn alarms_of_good_practice_are_left_alone() {
    assert_eq!(of(&[alarm("LAH", LAH), alarm("LAL", LAL)]), NONE);
}

#[test]
fn the_further_alarm_stands_further_out() {
    let high = |limit: &str| {
        alarm(
            "LAHH",
            &format!("above = \"{limit}\"\ndeadband = \"0.1 m\""),
        )
    };
    assert_eq!(of(&[alarm("LAH", LAH), high("3.999 m")]), ["limits-cross"]);
    assert_eq!(of(&[alarm("LAH", LAH), high("4.001 m")]), NONE);
    let low = |limit: &str| {
        alarm(
            "LALL",
            &format!("below = \"{limit}\"\ndeadband = \"0.1 m\""),
        )
    };
    assert_eq!(of(&[alarm("LAL", LAL), low("1.001 m")]), ["limits-cross"]);
    assert_eq!(of(&[alarm("LAL", LAL), low("0.999 m")]), NONE);
}

#[test]
fn low_stands_below_high_whatever_is_watched() {
    // π m³ a metre: 4 m are 12.566 m³.
    let low = |limit: &str| {
        let limit = format!("below = \"{limit}\"\ndeadband = \"1 m3\"");
        alarm_on("volume", "VOLUME-LOW", &limit)
    };
    assert_eq!(of(&[alarm("LAH", LAH), low("12.57 m3")]), ["limits-cross"]);
    assert_eq!(of(&[alarm("LAH", LAH), low("12.56 m3")]), NONE);
}

#[test]
fn letters_and_limit_say_the_same() {
    let turned = "below = \"1.0 m\"\ndeadband = \"0.1 m\"";
    assert_eq!(of(&[alarm("LAH", turned)]), ["code-and-limit"]);
    assert_eq!(of(&[alarm("LEVEL-1", turned)]), NONE);
}

#[test]
fn one_limit_is_one_alarm() {
    let other = |limit: &str| {
        alarm(
            "SECOND",
            &format!("above = \"{limit}\"\ndeadband = \"0.1 m\""),
        )
    };
    assert_eq!(of(&[alarm("LAH", LAH), other("4.0 m")]), ["same-limit"]);
    assert_eq!(of(&[alarm("LAH", LAH), other("4.0001 m")]), NONE);
    // What is no measure of level goes by its own number.
    let rate = |code, limit: &str| {
        let limit = format!("above = \"{limit}\"\ndeadband = \"10 mm/h\"");
        alarm_on("rate", code, &limit)
    };
    assert_eq!(
        of(&[rate("RATE", "300 mm/h"), rate("FAST", "300 mm/h")]),
        ["same-limit"]
    );
    assert_eq!(
        of(&[rate("RATE", "300 mm/h"), rate("FAST", "301 mm/h")]),
        NONE
    );
}

#[test]
fn an_alarm_stands_before_its_mark() {
    let high = |limit: &str| alarm("LAH", &format!("above = \"{limit}\"\ndeadband = \"0.1 m\""));
    assert_eq!(of(&[high("4.5 m")]), ["behind-its-mark"]);
    // 0.1 m are 31 s: enough for the delays, and nobody is promised anything.
    assert_eq!(of(&[high("4.4 m")]), NONE);
    let low = |limit: &str| alarm("LAL", &format!("below = \"{limit}\"\ndeadband = \"0.1 m\""));
    assert_eq!(of(&[low("0.5 m")]), ["behind-its-mark"]);
    assert_eq!(of(&[low("0.6 m")]), NONE);
}

#[test]
fn nothing_is_above_an_overflow() {
    let with = |overflow: &str| {
        let marks = format!("marks = {{ overflow = \"{overflow}\", critical_high = \"4.5 m\",");
        let text = TANK.replace("marks = { critical_high = \"4.5 m\",", &marks);
        rules(&format!("{text}{}", alarm("LAH", LAH)))
    };
    assert_eq!(with("4.0 m"), ["behind-its-mark"]);
    assert_eq!(with("4.01 m"), NONE);
}

#[test]
fn an_alarm_must_be_able_to_go() {
    let low = |limit: &str| alarm("ANY", &format!("below = \"{limit}\""));
    assert!(of(&[low("5.0 m")]).contains(&"always-active"));
    assert!(!of(&[low("4.99 m")]).contains(&"always-active"));
}

#[test]
fn the_transmitter_must_read_the_limit() {
    let with = |span: &str| {
        let text = TANK.replace("\"60 kPa\"", &format!("\"{span}\""));
        rules(&format!("{text}{}", alarm("LAH", LAH)))
    };
    // 4 m are 4·9.81·(1000 − 1.2)/1000 = 39.19 kPa; a span is read to 3.125 % above its end: 38.0 kPa.
    assert_eq!(with("37.9 kPa"), ["outside-the-range"]);
    assert_eq!(with("38.1 kPa"), NONE);
}

/// V = π·0.5 m = 1.5708 m³ takes 157.08 s at 0.01 m³/s. U: 60 Pa either way are 2·60/√3 = 69.28 Pa, by
/// (1000 − 1.2)·9.81 Pa/m 7.07 mm, by π m² 0.0222 m³, so 2.22 s. On-delay 10 s, poll 1 s, damping 1 s: 12 s.
/// 157.08 − 2.22 − 12 = 142.86 s are left.
#[test]
fn the_operator_has_the_time_that_is_promised() {
    let promised = |side: &str, within: &str| {
        let limit = match side {
            "in" => LAH,
            _ => LAL,
        };
        let limit = format!("{limit}\non_delay = \"10 s\"\nrespond_within = \"{within}\"");
        let code = if side == "in" { "LAH" } else { "LAL" };
        format!("{TANK}{}", alarm(code, &limit))
    };
    for side in ["in", "out"] {
        assert_eq!(rules(&promised(side, "143 s")), ["too-late-to-respond"]);
        assert_eq!(rules(&promised(side, "142 s")), NONE);
    }
    let text = promised("in", "10 min");
    let found = findings(&text);
    let finding = found.iter().next().expect("it is found");
    assert_eq!(
        finding.problem.message,
        "LAH leaves 2 min 22 s of the 600 s that its operator is promised"
            .replace("600 s", "10 min")
    );
    for part in ["1.57 m3", "36.0 m3/h", "2 min 37 s", "12 s", "U(V) 0.02 m3"] {
        assert!(
            finding.problem.why.contains(part),
            "{}",
            finding.problem.why
        );
    }
    // (612 s)·0.01 m³/s + 0.0222 m³ = 6.142 m³ are 1.955 m below 4.5 m.
    assert!(
        finding.problem.cure.contains("2.540 m or below"),
        "{}",
        finding.problem.cure
    );
}

/// 142.86 s as above, less the 60 s and 20 s after which the next two are told.
#[test]
fn the_last_person_of_a_notice_has_the_time_too() {
    let way = "webhook = \"https://pager.alder-rise.example/standpipe\"";
    let with = |at_least: &str, within: &str| {
        let limit = format!(
            "{LAH}\non_delay = \"10 s\"\npriority = \"high\"\nrespond_within = \"{within}\""
        );
        let notices = format!(
            "\n[[notice]]\nname = \"on-call\"\nat_least = \"{at_least}\"\n{way}\nescalate = {{ after = \"60 s\", to = \"second\" }}\n\
             \n[[notice]]\nname = \"second\"\n{way}\nescalate = {{ after = \"20 s\", to = \"last\" }}\n\
             \n[[notice]]\nname = \"last\"\n{way}\n"
        );
        format!("{TANK}{}{notices}", alarm("LAH", &limit))
    };
    let late = findings(&with("high", "63 s"));
    let rules: Vec<_> = late.iter().map(|finding| finding.rule).collect();
    assert_eq!(rules, ["too-late-to-respond"]);
    let why = &late.iter().next().expect("it is found").problem.why;
    assert!(
        why.contains("80 s until the last person of its notice is told"),
        "{why}"
    );
    assert_eq!(self::rules(&with("high", "62 s")), NONE);
    // No notice tells of it: whoever sits before the page has all of the time.
    assert_eq!(self::rules(&with("highest", "142 s")), NONE);
}

#[test]
fn delays_alone_can_be_too_long() {
    let delayed = |delay: &str| alarm("LAH", &format!("{LAH}\non_delay = \"{delay}\""));
    // 154.86 s without the poll and the damping: 152.86 s.
    assert_eq!(of(&[delayed("153 s")]), ["too-late-to-respond"]);
    assert_eq!(of(&[delayed("152 s")]), NONE);
}

#[test]
fn a_promise_needs_a_flow() {
    let (head, _) = TANK
        .split_once("[[tank.stream]]")
        .expect("there are streams");
    let promised = alarm("LAH", &format!("{LAH}\nrespond_within = \"1 min\""));
    assert_eq!(rules(&format!("{head}{promised}")), ["flow-unknown"]);
    assert_eq!(rules(&format!("{head}{}", alarm("LAH", LAH))), NONE);
}

#[test]
fn every_alarm_asks_for_something() {
    let text = format!("{TANK}{}", alarm("LAH", LAH));
    let mute = text.replace("response = \"Close the inlet valve\"\n", "");
    assert_eq!(rules(&mute), ["no-response"]);
    assert_eq!(rules(&text), NONE);
}

#[test]
fn an_alarm_without_a_deadband_is_told_the_usual_one_and_what_the_delay_costs() {
    let text = format!("{TANK}{}", alarm("LAH", "above = \"4.0 m\""));
    let found = findings(&text);
    let finding = found.iter().next().expect("it is found");
    assert_eq!((finding.rule, found.len()), ("no-deadband", 1));
    // 5 % of 1.5 to 3.5 m; 60 s of 0.01 m³/s on π m² are 191 mm.
    let cure = &finding.problem.cure;
    assert!(cure.starts_with("deadband = \"0.10 m\""), "{cure}");
    assert!(
        cure.contains("60 s costs 191 mm at the 36.0 m3/h"),
        "{cure}"
    );
    assert_eq!(
        of(&[alarm("LAH", "above = \"4.0 m\"\ndeadband = \"1 mm\"")]),
        NONE
    );
}

/// One hour of a signal that swings by ± `swing` kPa from sample to sample.
fn swinging(site: &Site, swing: f64) -> Heard {
    let mut heard = Heard::new(&site.plan, "an hour");
    for second in 0..3600_u16 {
        // Signs that repeat after 127 samples and are as good as chance: bits of a shift register (x⁷ + x⁶ + 1).
        let sign = if SIGNS[usize::from(second) % SIGNS.len()] {
            1.0
        } else {
            -1.0
        };
        let pressure_pa = 1000.0 * (30.0 + sign * swing);
        heard.take(TransmitterId(0), f64::from(second), pressure_pa);
    }
    heard
}

const SIGNS: [bool; 127] = {
    let (mut signs, mut register, mut place) = ([false; 127], 1_u8, 0);
    while place < 127 {
        signs[place] = register & 1 == 1;
        let next = (register ^ (register >> 1)) & 1;
        register = (register >> 1) | (next << 6);
        place += 1;
    }
    signs
};

#[test]
fn a_deadband_is_more_than_the_noise() {
    let with = |deadband: &str, swing: f64| {
        let limit = format!("above = \"4.0 m\"\ndeadband = \"{deadband}\"");
        let text = format!("{TANK}{}", alarm("LAH", &limit));
        let site = read(&text);
        let heard = swinging(&site, swing);
        let found = advise(&site, &text, Path::new(PATH), Some(&heard));
        let told = found
            .iter()
            .map(|finding| (finding.rule, finding.problem.clone()));
        told.collect::<Vec<_>>()
    };
    // ±0.2 kPa has σ = 0.2 kPa: 20.4 mm of water, and 5 σ are 102 mm.
    let found = with("90 mm", 0.2);
    assert_eq!(found[0].0, "deadband-below-noise");
    assert!(found[0].1.why.contains("an hour"), "{}", found[0].1.why);
    assert!(with("120 mm", 0.2).is_empty());
    // Where the noise is more than the usual start, it is what is suggested.
    let cure = &with("90 mm", 1.0)[0].1.cure;
    assert!(cure.contains("(5 σ;"), "{cure}");
}

#[test]
fn a_rise_and_a_pause_are_no_noise() {
    let site = read(TANK);
    let mut heard = Heard::new(&site.plan, "a test");
    let id = TransmitterId(0);
    (0..200).for_each(|second| heard.take(id, f64::from(second), 10.0 * f64::from(second)));
    (0..200).for_each(|second| heard.take(id, f64::from(9000 + second), 1e6));
    let sigma = heard.sigma(id).expect("enough was heard");
    assert!(sigma < 1e-6, "{sigma}");
}

#[test]
fn the_shelf_ends_with_the_shift() {
    let shelved = |rest: &str| alarm("LAH", &format!("{LAH}\n{rest}"));
    assert_eq!(
        of(&[shelved("shelve = { at_most = \"13 h\" }")]),
        ["long-shelf"]
    );
    assert_eq!(of(&[shelved("shelve = { at_most = \"12 h\" }")]), NONE);
    let highest = "priority = \"highest\"\n";
    let with = format!("{highest}shelve = {{ at_most = \"1 h\" }}");
    assert_eq!(of(&[shelved(&with)]), ["highest-can-be-shelved"]);
    assert_eq!(of(&[shelved(highest)]), NONE);
}

#[test]
fn an_answered_alarm_gives_time_to_respond() {
    let again = |rest: &str| alarm("LAH", &format!("{LAH}\n{rest}"));
    let promised = "respond_within = \"2 min\"\n";
    let with = |every: &str| of(&[again(&format!("{promised}re_alarm = \"{every}\""))]);
    assert_eq!(with("119 s"), ["re-alarm-too-soon"]);
    assert_eq!(with("5 min"), NONE);
    assert_eq!(of(&[again("re_alarm = \"299 s\"")]), ["re-alarm-too-soon"]);
    assert_eq!(of(&[again("re_alarm = \"300 s\"")]), NONE);
}

#[test]
fn bad_data_do_not_take_a_high_alarm_back() {
    let cleared = "\non_bad = \"clear\"";
    assert_eq!(
        of(&[alarm("LAH", &format!("{LAH}{cleared}"))]),
        ["cleared-by-bad-data"]
    );
    assert_eq!(of(&[alarm("LAL", &format!("{LAL}{cleared}"))]), NONE);
    let urgent = format!("{LAL}{cleared}\npriority = \"high\"");
    assert_eq!(of(&[alarm("LAL", &urgent)]), ["cleared-by-bad-data"]);
}

#[test]
fn priorities_sort_where_there_are_many() {
    let many = |count: usize, high: usize| {
        let alarms = (0..count).map(|place| {
            let priority = if place < high { "high" } else { "low" };
            let limit = format!(
                "above = \"{} mm/h\"\ndeadband = \"1 mm/h\"\npriority = \"{priority}\"",
                100 + place
            );
            alarm_on("rate", &format!("RATE-{place}"), &limit)
        });
        of(&alarms.collect::<Vec<_>>())
    };
    assert_eq!(many(30, 7), ["priority-split"]);
    assert_eq!(many(30, 6), NONE);
    assert_eq!(many(29, 29), NONE);
}

#[test]
fn instruments_say_what_they_are() {
    let without = |line: &str| {
        assert!(TANK.contains(line));
        rules(&TANK.replace(line, ""))
    };
    assert_eq!(without("accuracy = \"0.1 %\"\n"), ["no-accuracy"]);
    // A share of the span needs one.
    let absolute = TANK.replace("\"0.1 %\"", "\"60 Pa\"");
    let without_span = absolute.replace("span = [\"0 kPa\", \"60 kPa\"]\n", "");
    assert_eq!(rules(&without_span), ["no-span"]);
    let closed = TANK.replace(
        "hookup = { kind = \"vented\", transmitter = \"LT-1\", at = \"0 m\" }",
        "hookup = { kind = \"differential\", transmitter = \"LT-1\", at = \"0 m\", high = { tap = \"0 m\" }, low = { tap = \"5 m\", leg = \"gas\" } }",
    );
    assert_eq!(rules(&closed), ["draw-unknown", "no-gas"]);
    let gas = closed.replace("liquid = {", "gas = { kind = \"air\" }\nliquid = {");
    assert_eq!(rules(&gas), ["draw-unknown"]);
    let meter = "\n[[transmitter]]\ntag = \"FT-1\"\nlink = \"skid\"\nreads = \"flow\"\nregister = \"input 8\"\ntype = \"f32\"\nunit = \"m3/h\"\nspan = [\"0 m3/h\", \"60 m3/h\"]\n";
    let metered = gas.replace(
        "direction = \"out\"\n",
        "direction = \"out\"\nflow = \"FT-1\"\n",
    );
    assert_eq!(rules(&(metered + meter)), NONE);
    let filled = gas.replace(
        "leg = \"gas\"",
        "leg = { kind = \"constant\", density = \"1080 kg/m3\" }",
    );
    let spanned = filled.replace("[\"0 kPa\"", "[\"-60 kPa\"");
    assert_eq!(rules(&spanned), NONE);
}

#[test]
fn the_works_are_clean_but_for_what_is_meant() {
    for (file, meant) in [
        (
            "config/alder-rise.toml",
            &[("too-late-to-respond", "LALL"), ("draw-unknown", "")][..],
        ),
        ("config/alder-rise-hookups.toml", &[]),
    ] {
        let text = std::fs::read_to_string(file).expect("the works are there");
        let site = parse(&text, Path::new(file)).expect("the works are right");
        let found = advise(&site, &text, Path::new(file), None);
        let told: Vec<_> = found
            .iter()
            .map(|finding| (finding.rule, finding.alarm.as_deref().unwrap_or("")))
            .collect();
        assert_eq!(told, meant, "{}", found.render(false));
    }
}
