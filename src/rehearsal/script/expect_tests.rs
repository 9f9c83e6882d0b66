//! What is said of expectations, right and wrong.

use super::tests::parse;

/// The sentence of one `[[expect]]`.
fn expected(lines: &str) -> String {
    let text = format!("site = \"s.toml\"\nlast = \"01:00:00\"\n[[expect]]\n{lines}");
    match parse(&text) {
        Ok(script) => script.expectations[0].to_string(),
        Err(problems) => problems,
    }
}

#[test]
fn expectations_say_what_and_when() {
    for (lines, sentence) in [
        (
            "alarm = \"a LAH\"\nstate = \"UNACK\"\nbetween = [\"00:01:00\", \"00:02:00\"]",
            "a LAH is UNACK between 00:01:00 and 00:02:00",
        ),
        (
            "alarm = \"a LAH\"\nstate = \"NORM\"\nfrom = \"00:01:00\"",
            "a LAH is NORM from 00:01:00 on",
        ),
        (
            "alarm = \"system LINK-A\"\nstate = \"UNACK\"\nnever = true",
            "system LINK-A is never UNACK",
        ),
        (
            "tank = \"a\"\nlevel_within = \"10 mm\"\nwhile = [\"00:01:00\", \"00:02:00\"]",
            "a: the level is within 10 mm of the true one from 00:01:00 to 00:02:00",
        ),
        (
            "tank = \"a\"\nlevel_off_by = [\"-120 mm\", \"-80 mm\"]\nfrom = \"00:01:00\"",
            "a: the level is -120 to -80 mm off the true one from 00:01:00 on",
        ),
        (
            "tank = \"a\"\nlevel_off_by = [\"0.3 mm\", \"102.5 mm\"]\nfrom = \"00:01:00\"",
            "a: the level is +0.3 to +102.5 mm off the true one from 00:01:00 on",
        ),
        (
            "tank = \"a\"\nquality = \"bad\"\nuntil = \"00:01:00\"",
            "a: quality is bad until 00:01:00",
        ),
        (
            "no_event = \"jump\"\ntank = \"a\"\nbefore = \"00:20:00\"",
            "no event \"jump\" of a between 00:00:00 and 00:20:00",
        ),
        (
            "verdict = \"a b pressure artefact\"\nbefore = \"00:50:00\"",
            "a b: \"pressure artefact\", possible at least before 00:50:00",
        ),
    ] {
        assert_eq!(expected(lines), sentence);
    }
}

#[test]
fn expectations_that_make_no_sense_are_refused_at_their_place() {
    for (lines, said) in [
        ("never = true", "it is not said what is expected"),
        ("alarm = \"a LAH\"", "`state` is missing"),
        (
            "alarm = \"LAH\"\nstate = \"NORM\"",
            "must name a tank and an alarm's code",
        ),
        (
            "alarm = \"a LAH\"\nstate = \"UNACKED\"",
            "did you mean \"UNACK\"?",
        ),
        ("tank = \"a\"", "one thing must be expected of the tank"),
        (
            "verdict = \"north pit loses while noting should flow\"",
            "did you mean \"north pit loses while nothing should flow\"?",
        ),
        ("event = \"jmp\"", "did you mean \"jump\"?"),
        (
            "event = \"jump\"\nstate = \"NORM\"",
            "`state` does not go with `event`",
        ),
        (
            "verdict = \"a high side plagued\"",
            "must be a tank and a fault",
        ),
        (
            "event = \"jump\"\nbefore = \"00:01:00\"\nfrom = \"00:00:01\"",
            "does not go with",
        ),
        (
            "event = \"jump\"\nbefore = \"02:00:00\"",
            "the script has ended by then",
        ),
        (
            "event = \"jump\"\nbetween = [\"00:02:00\", \"00:01:00\"]",
            "the earlier first",
        ),
        (
            "tank = \"a\"\nlevel_within = \"1 mm\"\nnever = true",
            "holds for a time",
        ),
    ] {
        let problems = expected(lines);
        assert!(problems.contains(said), "{said} is missing in\n{problems}");
        assert!(problems.contains("1 problem in"), "{problems}");
    }
}
