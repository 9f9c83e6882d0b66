//! What a script may say, and what is said of one that is wrong.

use super::*;
use crate::engine::Command;
use crate::plant::Setting;
use crate::quantity::Dimension;

pub(super) fn parse(text: &str) -> Result<Script, String> {
    Script::parse(text, Path::new("scripts/one.toml")).map_err(|problems| problems.to_string())
}

fn refused(text: &str) -> String {
    match parse(&format!("site = \"../site.toml\"\n{text}")) {
        Ok(script) => panic!("taken: {script:?}"),
        Err(problems) => problems,
    }
}

/// The actions of one `[[at]]`.
fn actions(lines: &str) -> Vec<Action> {
    let script = parse(&format!(
        "site = \"s.toml\"\n[[at]]\ntime = \"00:00:10\"\n{lines}"
    ));
    script
        .unwrap_or_else(|problems| panic!("{problems}"))
        .entries
        .remove(0)
        .actions
}

#[test]
fn a_script_is_read() {
    let script = parse(
        r#"
        site = "../alder-rise.toml"
        seed = 7
        last = "02:00:00"
        [[tank]]
        name  = "clearwell"
        level = "3.0 m"
        headspace = "12 kPa(g)"
        true  = { leg_density = "1060 kg/m3", density = "998 kg/m3", transmitter_zero = "0.2 kPa", noise = "0.02 kPa" }
        [[at]]
        time   = "00:05:00"
        until  = "00:06:00"
        every  = "10 min"
        tank   = "clearwell"
        inflow = "36 m3/h"
        outflow = "0 m3/h"
        "#,
    )
    .expect("a sound script");
    assert_eq!(script.site, Path::new("scripts/../alder-rise.toml"));
    assert_eq!(
        (script.seed, script.last),
        (7, Some(Duration::from_secs(7200)))
    );
    let tank = &script.tanks[0];
    assert_eq!(tank.tank.name, "clearwell");
    assert_eq!(tank.truth.transmitter_zero, Some(200.0));
    let headspace = tank.headspace.as_ref().expect("it is given").value;
    assert_eq!(
        headspace,
        Headspace {
            pascals: 12_000.0,
            reference: Reference::Gauge
        }
    );
    let entry = &script.entries[0];
    let minutes = |minutes: u64| Duration::from_secs(60 * minutes);
    assert_eq!(
        (entry.time, entry.until, entry.every),
        (minutes(5), Some(minutes(6)), Some(minutes(10)))
    );
    assert!(matches!(
        &entry.actions[..],
        [
            Action::Turn { setting: Setting::Inflow, value, .. },
            Action::Turn { setting: Setting::Outflow, .. },
        ] if (value - 0.01).abs() < 1e-15
    ));
}

#[test]
fn faults_and_commands_are_read() {
    let fault = |lines: &str| match actions(lines).remove(0) {
        Action::TankFault { fault, .. } | Action::TransmitterFault { fault, .. } => fault.value,
        other => panic!("{other:?}"),
    };
    let tank = |words: &str| fault(&format!("tank = \"t\"\nfault = {{ {words} }}"));
    assert_eq!(
        tank("plugged = \"both\""),
        Ailment::Plugged {
            high: true,
            low: true,
            lag_s: None,
            stiffness_pa: 0.0
        }
    );
    assert_eq!(
        tank("plugged = \"low\", lag = \"2 min\""),
        Ailment::Plugged {
            high: false,
            low: true,
            lag_s: Some(120.0),
            stiffness_pa: 0.0
        }
    );
    assert!(
        matches!(tank("wet_leg_lost = \"30 cm\""), Ailment::WetLegLost(height) if (height.value - 0.3).abs() < 1e-15)
    );
    assert_eq!(tank("equaliser = \"open\""), Ailment::Equaliser(1.0));
    let passing = tank("equaliser = \"leaking\", passing = \"30 %\"");
    assert_eq!(passing, Ailment::Equaliser(0.3));
    assert_eq!(
        fault("transmitter = \"PT-1\"\nfault = { nan = true }"),
        Ailment::Nan
    );
    assert_eq!(
        tank("drift = \"3.6 kPa / 1 h\""),
        Ailment::Drift {
            per_second: 1.0,
            dimension: Dimension::Pressure
        }
    );
    let link = actions("link = \"a\"\nfault = { exception = \"20 s\", code = 6 }").remove(0);
    assert!(
        matches!(link, Action::LinkFault { fault: Disturbance::Exception(6), lasting, .. } if lasting.as_secs() == 20)
    );
    let asked = actions("command = { ack = \"clear well LAH\", by = \"Ada\" }").remove(0);
    let Action::Command(Asked {
        command: Command::Acknowledge { tank, code, .. },
        refused: false,
        reads: None,
        said,
        ..
    }) = asked
    else {
        panic!("{asked:?}")
    };
    assert_eq!((tank.as_str(), code.as_str()), ("clear well", "LAH"));
    assert_eq!(said, "ack \"clear well LAH\"");
}

/// Everything at once, each with what to do about it.
#[test]
fn all_that_is_wrong_is_said_together() {
    let problems = refused(
        r#"
        [[tank]]
        name = "a"
        level = 3.0
        headspace = "12 kPa"
        [[tank]]
        name = "a"
        [[at]]
        time = "5 min"
        tank = "a"
        inflw = "1 m3/h"
        [[at]]
        time = "00:00:10"
        tank = "a"
        fault = { plugged = "hihg" }
        [[at]]
        time = "00:00:10"
        link = "a"
        fault = { frozen = true }
        "#,
    );
    for said in [
        "`level` is a bare number",
        "`headspace` must say what the pressure counts from",
        "tank \"a\" starts twice",
        "`time` must be a moment from the start",
        "did you mean `inflow`?",
        "did you mean \"high\"?",
        "`frozen` is no fault of a link",
        "a link can have: silent, reset, dropped, late, exception, torn, swapped",
    ] {
        assert!(problems.contains(said), "{said} is missing in\n{problems}");
    }
}

#[test]
fn what_would_never_come_and_what_counts_once_only_is_refused() {
    let problems = refused(
        r#"
        last = "00:05:00"
        [[demand]]
        tank = "a"
        pattern = [["0 h", "5 m3/h"]]
        [[demand]]
        tank = "a"
        pattern = [["0 h", "2 m3/h"]]
        [[at]]
        time = "00:06:00"
        tank = "a"
        inflow = "1 m3/h"
        [[at]]
        time = "00:01:00"
        clock = "1e12 s"
        "#,
    );
    for said in [
        "no clock is stepped by more than a hundred years",
        "the script has ended by then: it would never come",
        "it lasts until 00:05:00: make `last` later",
        "tank \"a\" has two demands",
        "add their flows up in one [[demand]]",
    ] {
        assert!(problems.contains(said), "{said} is missing in\n{problems}");
    }
}

#[test]
fn entries_that_say_nothing_or_too_much_are_refused() {
    for (lines, said) in [
        ("", "it is not said what this happens to"),
        ("tank = \"a\"", "nothing happens to the tank"),
        (
            "tank = \"a\"\nlink = \"b\"",
            "`link` does not go with `tank`",
        ),
        ("transmitter = \"a\"", "`fault` is missing"),
        (
            "link = \"a\"\ninflow = \"1 m3/h\"\nfault = { silent = \"1 s\" }",
            "`inflow` does not go with `link`",
        ),
        (
            "tank = \"a\"\nfault = { frozen = true, nan = true }",
            "must name one fault, not 2",
        ),
        (
            "link = \"a\"\nfault = { silent = \"1 s\", code = 6 }",
            "`code` goes with `exception` alone",
        ),
        (
            "tank = \"a\"\nambient = \"5 degC\"",
            "`ambient` does not go with `tank`",
        ),
        (
            "tank = \"a\"\ninflow = \"1 m3/h\"\nevery = \"5 s\"\njitter = \"6 s\"",
            "it may come later than the next time",
        ),
        (
            "tank = \"a\"\ninflow = \"1 m3/h\"\nevery = \"1e-9 s\"",
            "`every` is shorter than the plant's step of 0.1 s",
        ),
        (
            "air_pressure = \"1 kPa(g)\"",
            "the air's pressure counts from vacuum",
        ),
        (
            "tank = \"a\"\nfault = { wet_leg_lost = \"1 m\", lag = \"1 s\" }",
            "`lag` goes with `plugged` alone",
        ),
        (
            "tank = \"a\"\nfault = { plugged = \"low\", lag = \"1 s\", stiffness = \"1 MPa\" }",
            "nothing is trapped behind a partial plug",
        ),
        (
            "tank = \"a\"\nfault = { equaliser = \"open\", passing = \"10 %\" }",
            "an open equaliser passes all",
        ),
        (
            "tank = \"a\"\nfault = { plugged = \"low\", over = \"1 h\" }",
            "`over` does not go with `plugged`",
        ),
        (
            "link = \"a\"\nfault = { torn = \"1 min\", share = \"120 %\" }",
            "`share` must be at most 100 %",
        ),
        (
            "link = \"a\"\ndevice = 3\nfault = { reset = \"1 min\" }",
            "a fault of the whole link",
        ),
        ("pump = \"P\"", "`speed` is missing"),
        (
            "valve = \"V\"\nopening = \"5 %\"\nspeed = \"5 %\"",
            "`speed` does not go with `valve`",
        ),
        (
            "tank = \"a\"\nfault = { tube_plugged = \"1 kPa\" }",
            "must be a change per time",
        ),
        (
            "tank = \"a\"\nfault = { frozen = false }",
            "`frozen = false` says nothing",
        ),
        (
            "tank = \"a\"\nfault = { drift = \"1 kPa\" }",
            "must be a change per time",
        ),
        (
            "tank = \"a\"\ninflow = \"1 m3/h\"\nuntil = \"00:00:10\"",
            "`until` must be later than `time`",
        ),
        (
            "tank = \"a\"\ninflow = \"1 m3/h\"\nuntil = \"00:00:30\"\nevery = \"5 s\"",
            "starts again before it has ended",
        ),
        (
            "link = \"a\"\nuntil = \"00:00:30\"\nfault = { silent = \"1 s\" }",
            "`until` says nothing here",
        ),
        (
            "command = { ack = \"LAH\", by = \"Ada\" }",
            "must name a tank and an alarm's code",
        ),
    ] {
        let problems = refused(&format!("[[at]]\ntime = \"00:00:10\"\n{lines}"));
        assert!(problems.contains(said), "{said} is missing in\n{problems}");
        assert!(problems.contains("1 problem in"), "{problems}");
    }
}

#[test]
fn pumps_valves_demands_and_gas_that_cannot_be_are_refused() {
    for (lines, said) in [
        (
            "[[pump]]\nname = \"P\"\nrate = \"1 m3/h\"",
            "neither comes from a tank nor goes to one",
        ),
        (
            "[[pump]]\nname = \"P\"\nrate = \"1 m3/h\"\nfrom = \"a\"\nto_at = \"1 m\"",
            "`to_at` says nothing without `to`",
        ),
        (
            "[[pump]]\nname = \"P\"\nrate = \"1 m3/h\"\nfrom = \"a\"\nstarts = \"1 m\"",
            "a level switch needs two levels",
        ),
        (
            "[[pump]]\nname = \"P\"\nrate = \"1 m3/h\"\nfrom = \"a\"\nstarts = \"1 m\"\nstops = \"2 m\"",
            "no tank's level can switch it like that",
        ),
        (
            "[[valve]]\nname = \"V\"\nkv = \"1 m3/h\"\nfrom = \"a\"\nopening = \"101 %\"",
            "`opening` must be at most 100 %",
        ),
        (
            "[[valve]]\nname = \"V\"\nkv = \"1 m3/h\"\nfrom = \"a\"\noutside = \"1 kPa(g)\"",
            "counts from vacuum",
        ),
        (
            "[[demand]]\ntank = \"a\"\npattern = [[\"1 h\", \"1 m3/h\"]]",
            "`pattern` must be times of one period",
        ),
        (
            "[[tank]]\nname = \"a\"\ngas = { vent_flow = \"1 m3/h\" }",
            "`vent_flow` says nothing without `vent`",
        ),
        (
            "[[tank]]\nname = \"a\"\ngas = { vent = \"1 kPa\" }",
            "`vent` must say what the pressure counts from",
        ),
    ] {
        let problems = refused(lines);
        assert!(problems.contains(said), "{said} is missing in\n{problems}");
        assert!(problems.contains("1 problem in"), "{problems}");
    }
}

/// The command of one `[[at]]`.
fn command(words: &str) -> Command {
    match actions(&format!("command = {{ {words}, by = \"Ada\" }}")).remove(0) {
        Action::Command(asked) => asked.command,
        other => panic!("{other:?}"),
    }
}

#[test]
fn whatever_people_ask_can_be_written() {
    let (tank, by) = (String::from("a b"), std::sync::Arc::<str>::from("Ada"));
    let code = String::from("LAH");
    assert_eq!(
        command("shelve = \"a b LAH\", for = \"2 h\", reason = \"float\", once = true"),
        Command::Shelve {
            tank: tank.clone(),
            code: code.clone(),
            by: by.clone(),
            time: Duration::from_secs(7200),
            reason: "float".into(),
            once: true,
        }
    );
    let (alarm, by) = (|| (tank.clone(), code.clone()), || by.clone());
    for (words, command_of) in [
        (
            "reset",
            (|tank, code, by| Command::Reset { tank, code, by }) as fn(_, _, _) -> _,
        ),
        ("unshelve", |tank, code, by| Command::Unshelve {
            tank,
            code,
            by,
        }),
        ("return", |tank, code, by| Command::Return {
            tank,
            code,
            by,
        }),
        ("out_of_service", |tank, code, by| Command::OutOfService {
            tank,
            code,
            by,
            reason: None,
        }),
    ] {
        let (tank, code) = alarm();
        let expected = command_of(tank, code, by());
        assert_eq!(command(&format!("{words} = \"a b LAH\"")), expected);
    }
    assert_eq!(
        command("confirm = \"a b leg-drained\""),
        Command::ConfirmLegDrained {
            tank: tank.clone(),
            by: by()
        }
    );
    let transfer = command("transfer = \"a b\", by_volume = \"-12 m3\"");
    let Command::Transfer {
        to: crate::engine::TransferTo::ByVolume(by_volume),
        tell,
        ..
    } = transfer
    else {
        panic!("{transfer:?}")
    };
    assert!((by_volume.value + 12.0).abs() < 1e-12 && tell == Duration::from_secs(300));
    assert!(matches!(
        command("product = \"a b\", is = \"brine\""),
        Command::ChooseProduct { product, .. } if product == "brine"
    ));
}

#[test]
fn every_key_stands_in_the_handbook() {
    let page = include_str!("../../../deploy/handbook/rehearsal.md");
    for key in keys::KEYS.iter().filter(|key| key.is_here) {
        let name = key.name;
        let forms = [
            format!("`{name}"),
            format!("{name} = "),
            format!("[[{name}]]"),
        ];
        assert!(
            forms.iter().any(|form| page.contains(form)),
            "{} of [{}]",
            key.name,
            key.table
        );
    }
}
