//! Every script that comes with Standpipe, rehearsed: those of Alder Rise and those of the alarms' lifecycle. What
//! they expect is met; each expectation, turned round, is not; and what comes of them is the same to the bit.

use standpipe::quantity::metres;
use standpipe::rehearsal::script::expect::{Mode, Subject};
use standpipe::rehearsal::script::faults;
use standpipe::rehearsal::{
    Coverage, Keep, Manner, Progress, Rehearsed, Script, Trace, judge, junit, play, rehearse,
};
use standpipe::site::Site;
use std::path::{Path, PathBuf};
use std::process::Command;

fn path(relative: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(relative)
}

fn read(relative: &str) -> Script {
    Script::read(&path(relative)).unwrap_or_else(|problems| panic!("{problems}"))
}

/// The scripts of a folder; a site of their own may lie beside them.
fn scripts(folder: &str) -> Vec<Script> {
    let files = std::fs::read_dir(path(folder)).expect("the folder is there");
    let mut paths: Vec<PathBuf> = files.map(|file| file.expect("a file").path()).collect();
    paths.sort();
    let is_script = |path: &PathBuf| {
        let name = path
            .file_name()
            .and_then(|name| name.to_str())
            .unwrap_or("");
        name.ends_with(".toml") && name != "site.toml"
    };
    let paths = paths.iter().filter(|path| is_script(path));
    paths
        .map(|path| Script::read(path).unwrap_or_else(|problems| panic!("{problems}")))
        .collect()
}

/// Each folder's scripts with their site.
fn all() -> [(Site, Vec<Script>); 4] {
    let folders = [
        "config/scripts",
        "tests/scripts",
        "config/scripts/hookups",
        "tests/scripts/watched",
    ];
    folders.map(|folder| {
        let scripts = scripts(folder);
        let site = standpipe::site::read(&scripts[0].site);
        (
            site.unwrap_or_else(|problems| panic!("{problems}")),
            scripts,
        )
    })
}

fn rehearsed(site: &Site, scripts: &[Script], jobs: usize) -> Vec<Rehearsed> {
    let each = rehearse(site, scripts, Manner::by(jobs), &Progress::default()).into_iter();
    each.map(|one| one.unwrap_or_else(|problems| panic!("{problems}")))
        .collect()
}

fn assert_met(site: &Site, scripts: &[Script]) {
    for one in rehearsed(site, scripts, 2) {
        let unmet: Vec<_> = one.judged.iter().filter(|judged| !judged.met).collect();
        assert!(
            unmet.is_empty(),
            "{} by seed {}: {unmet:#?}",
            one.script.display(),
            one.seed
        );
    }
}

#[test]
fn what_every_script_expects_is_met() {
    let all = all();
    assert!(
        all[0].1.len() >= 15 && all[1].1.len() >= 8,
        "scripts are missing"
    );
    for (site, scripts) in &all {
        for script in scripts {
            assert!(
                script.expectations.len() >= 2,
                "{}",
                script.path().display()
            );
        }
        assert_met(site, scripts);
    }
}

#[test]
fn every_fault_befalls_some_script() {
    let texts = all().map(|(_, scripts)| {
        let texts = scripts
            .iter()
            .map(|script| std::fs::read_to_string(script.path()));
        let texts: Result<Vec<String>, _> = texts.collect();
        texts.expect("they were read").concat()
    });
    let text = texts.concat();
    for fault in faults() {
        assert!(
            text.contains(&format!("{{ {fault} = ")),
            "no script has {fault}"
        );
    }
}

/// What is expected hangs on the plant, not on the noise that a seed happens to give.
#[test]
fn and_with_other_noise_as_well() {
    for (site, scripts) in &mut all() {
        for script in scripts.iter_mut() {
            script.seed += 1000;
        }
        assert_met(site, scripts);
    }
}

/// Each expectation turned round: what comes or holds must never be, what must never be is to come, and a level is
/// to be exact. None of them may be met, so each can fail.
#[test]
fn every_expectation_can_fail() {
    for (site, scripts) in &all() {
        for script in scripts {
            let trace = play(site, script).unwrap_or_else(|problems| panic!("{problems}"));
            let mut turned = script.clone();
            for expectation in &mut turned.expectations {
                match (&mut expectation.subject, expectation.mode) {
                    (Subject::Level { within, .. }, _) => *within = metres(0.0),
                    (_, Mode::Never) => expectation.mode = Mode::Comes,
                    (_, Mode::Comes | Mode::Holds) => expectation.mode = Mode::Never,
                }
            }
            for judged in judge(site, &turned, &trace) {
                assert!(!judged.met, "{}: {judged:#?}", script.path().display());
                assert!(
                    !judged.expected.starts_with("command "),
                    "every command was answered: {judged:#?}"
                );
            }
        }
    }
}

/// Readings and events, bits of the levels included.
fn bits(trace: &Trace) -> String {
    let moments = trace.moments.iter().flatten();
    let levels: Vec<_> = moments
        .map(|moment| {
            (
                moment.at,
                moment.level_m.map(f64::to_bits),
                moment.true_m.to_bits(),
            )
        })
        .collect();
    format!("{levels:?} {:?} {:?}", trace.events, trace.found)
}

#[test]
fn the_seed_settles_every_bit() {
    let (site, scripts) = &all()[0];
    let played = |script: &Script| bits(&play(site, script).expect("a sound script"));
    let script = scripts
        .iter()
        .find(|script| script.path().ends_with("high.toml"));
    let mut script = script.expect("it is there").clone();
    let first = played(&script);
    assert!(first == played(&script), "twice the same is not the same");
    script.seed += 1;
    assert!(
        first != played(&script),
        "another seed gives the same noise"
    );
    let forms = |jobs| {
        let each = rehearsed(site, scripts, jobs);
        each.iter()
            .map(|one| format!("{:?}", one.form(true)))
            .collect::<Vec<_>>()
    };
    assert!(
        forms(1) == forms(5),
        "it hangs on how many are played at once"
    );
}

#[test]
fn coverage_names_what_no_script_has_exercised() {
    let (site, scripts) = &all()[0];
    let mut coverage = Coverage::new(&site.plan);
    for one in rehearsed(site, scripts, 2) {
        coverage.add(&one.coverage);
    }
    let alarm = |tank: &str, code: &str| {
        let mut alarms = coverage.alarms.iter();
        let alarm = alarms.find(|alarm| alarm.tank == tank && alarm.code == code);
        let alarm = alarm.unwrap_or_else(|| panic!("{tank} {code}"));
        (
            alarm.activated,
            alarm.acknowledged,
            alarm.cleared,
            alarm.bad,
        )
    };
    assert_eq!(alarm("clearwell", "LAH"), (true, true, true, true));
    assert_eq!(alarm("backwash", "LAL"), (true, false, false, true));
    assert_eq!(alarm("diesel", "LAH"), (false, false, false, true));
    assert_eq!(alarm("system", "LINK-SKID-B"), (true, true, true, false));
    assert_eq!(alarm("system", "LINK-SKID-A"), (false, false, false, false));
}

fn program(arguments: &[&str]) -> (Option<i32>, String) {
    let program = Command::new(env!("CARGO_BIN_EXE_standpipe"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("the program starts");
    let text = [program.stdout, program.stderr].map(|text| String::from_utf8(text).expect("UTF-8"));
    (program.status.code(), text.concat())
}

#[test]
fn the_program_says_no_by_its_exit_status_and_shows_the_moments() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = std::fs::read_to_string(path("config/scripts/high.toml")).expect("it is there");
    // The alarm would have to come half a minute sooner.
    let broken = text.replace(
        "between = [\"00:01:40\", \"00:01:50\"]",
        "between = [\"00:01:00\", \"00:01:20\"]",
    );
    assert_ne!(text, broken);
    let (script, report) = (
        folder.path().join("high.toml"),
        folder.path().join("report.xml"),
    );
    std::fs::write(&script, broken).expect("written");
    let (script, report) = (
        script.to_str().expect("a name"),
        report.to_str().expect("a name"),
    );
    let site = "config/alder-rise.toml";
    let (status, text) = program(&["rehearse", site, script, "--junit", report]);
    assert_eq!(status, Some(1), "{text}");
    for said in [
        "6 of 7 met",
        "NOT MET   36  clearwell LAH is UNACK between 00:01:00 and 00:01:20",
        "it comes to UNACK at 00:01:4",
        "alarm clearwell LAH UNACK",
        "truly 4.6",
    ] {
        assert!(text.contains(said), "{said} is missing in\n{text}");
    }
    let xml = std::fs::read_to_string(report).expect("it was written");
    assert!(xml.contains("tests=\"7\" failures=\"1\""), "{xml}");
    let (status, text) = program(&["rehearse", site, script, "--json"]);
    let form: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!((status, &form["met"]), (Some(1), &serde_json::json!(false)));
    let (status, text) = program(&["rehearse", site, "config/scripts/high.toml"]);
    assert_eq!(status, Some(0), "{text}");
}

#[test]
fn a_script_that_is_wrong_is_refused_at_its_place() {
    let folder = tempfile::tempdir().expect("a folder");
    let script = folder.path().join("wrong.toml");
    let text = "site = \"x.toml\"\nlast = \"00:10:00\"\n[[expect]]\nalarm = \"clearwell LAX\"\nstate = \"UNACK\"\n";
    std::fs::write(&script, text).expect("written");
    let script = script.to_str().expect("a name");
    let (status, text) = program(&["rehearse", "config/alder-rise.toml", script]);
    assert_eq!(status, Some(2), "{text}");
    for said in [
        "no alarm \"LAX\"",
        "wrong.toml:4:9",
        "it has: LAH, LAL, LALL",
    ] {
        assert!(text.contains(said), "{said} is missing in\n{text}");
    }
}

/// A command that is refused though it should be done, and the other way round, is told without an expectation.
#[test]
fn a_command_that_is_not_answered_as_it_should_be_is_not_met() {
    let (site, _) = &all()[0];
    let mut script = read("config/scripts/shelve.toml");
    let judged = |script: &Script| {
        let one = Rehearsed::of(site, script, Keep::Named, &Progress::default())
            .unwrap_or_else(|problems| panic!("{problems}"));
        one.judged
            .into_iter()
            .filter(|judged| !judged.met)
            .collect::<Vec<_>>()
    };
    assert_eq!(judged(&script), []);
    let text = std::fs::read_to_string(script.path()).expect("it is there");
    let turned = text.replace(", refused = true", "").replace(
        "reason = \"drawn down for cleaning\"",
        "refused = true, reason = \"x\"",
    );
    script = Script::parse(&turned, &path("config/scripts/shelve.toml")).expect("sound");
    let unmet: Vec<String> = judged(&script)
        .into_iter()
        .map(|judged| judged.expected)
        .collect();
    assert_eq!(
        unmet,
        [
            "command shelve \"clearwell LAL\" is refused at 00:00:10",
            "command shelve \"clearwell LALL\" is done at 00:00:20"
        ]
    );
    let one = Rehearsed::of(site, &script, Keep::Named, &Progress::default()).expect("sound");
    assert!(junit(&[one]).contains("it was refused: clearwell LALL has the highest priority"));
}

/// Why an expectation is not met is told where it looks as if it were.
#[test]
fn what_was_so_before_and_what_is_off_by_little_is_told() {
    let (site, _) = &all()[0];
    let text = r#"
site = "../alder-rise.toml"
last = "00:02:00"
[[tank]]
name  = "clearwell"
level = "4.90 m"
[[expect]]
tank    = "clearwell"
quality = "good"
between = ["00:01:00", "00:02:00"]
[[expect]]
alarm   = "clearwell LAH"
state   = "UNACK"
between = ["00:01:00", "00:02:00"]
[[expect]]
tank         = "clearwell"
level_off_by = ["0.3 mm", "0.4 mm"]
from         = "00:01:00"
"#;
    let script = Script::parse(text, &path("config/scripts/so.toml")).expect("sound");
    let one = Rehearsed::of(site, &script, Keep::Named, &Progress::default()).expect("sound");
    let found: Vec<&str> = one.judged.iter().map(|judged| &*judged.found).collect();
    for (found, said) in found.iter().zip([
        "it does not come in that time; it was so before already, from 00:00:00 on",
        "; it was so before already, from 00:00:",
        "mm off",
    ]) {
        assert!(found.contains(said), "{found}");
    }
    assert!(one.judged.iter().all(|judged| !judged.met));
}

/// The script of the handbook's page and of the README, as they stand there.
#[test]
fn the_scripts_of_the_documents_are_met() {
    let (site, _) = &all()[0];
    for document in ["deploy/handbook/rehearsal.md", "README.md"] {
        let text = std::fs::read_to_string(path(document)).expect("it is there");
        let blocks = text.split("```toml\n").skip(1);
        let blocks = blocks.filter_map(|block| block.split("```").next());
        let script = blocks
            .into_iter()
            .find(|block| block.contains("[[expect]]"));
        let script = Script::parse(script.expect("a script"), &path("config/scripts/x.toml"));
        let script = script.unwrap_or_else(|problems| panic!("{document}: {problems}"));
        assert_met(site, &[script]);
    }
}

/// Pictures under the scripts' names, records by their files' names; each says how it came out.
#[test]
fn the_program_draws_and_records() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str| folder.path().join(name).display().to_string();
    let (site, script) = ("config/alder-rise.toml", "config/scripts/high.toml");
    let (pictures, html, text) = (file("pictures"), file("record.html"), file("record.txt"));
    let options = ["--strip", &pictures, "--record", &html, "--record", &text];
    let line = [&["rehearse", site, script, script][..], &options].concat();
    let (status, told) = program(&line);
    assert_eq!(status, Some(0), "{told}");
    for (name, says) in [
        ("pictures/high.svg", "PASSED: 7 of 7 expectations met"),
        ("pictures/high-again.svg", "lasts 00:20:00, seed 11"),
        ("record.html", "src=\"data:image/svg+xml,"),
        ("record.html", "PASSED: 14 of 14 expectations met"),
        ("record.txt", "fluoride-day-tank.csv\n  SHA-256 "),
    ] {
        let written = std::fs::read_to_string(file(name)).expect("it was written");
        assert!(written.contains(says), "{name}: {says}");
    }
    let (status, told) = program(&["rehearse", site, script, "--record", "record.pdf"]);
    assert_eq!(status, Some(2), "{told}");
    assert!(told.contains("ends in .txt or .html"), "{told}");
}

/// The trials of the detection table: each can be played, and those with a fault expect one verdict.
#[test]
fn every_trial_can_be_played() {
    let files = std::fs::read_dir(path("tests/detection")).expect("the folder is there");
    let mut trials = 0;
    for file in files {
        let file = file.expect("a file").path();
        let name = file.file_stem().and_then(|stem| stem.to_str());
        let name = name.expect("a name in UTF-8");
        if name.starts_with("site") {
            continue;
        }
        let script = Script::read(&file).unwrap_or_else(|problems| panic!("{problems}"));
        let site = standpipe::site::read(&script.site);
        let site = site.unwrap_or_else(|problems| panic!("{problems}"));
        standpipe::rehearsal::scenario::plant(&site, &script)
            .unwrap_or_else(|problems| panic!("{problems}"));
        let verdicts = script.expectations.iter();
        let verdicts = verdicts.filter(|one| matches!(one.subject, Subject::Finding { .. }));
        assert_eq!(
            verdicts.count(),
            usize::from(!name.starts_with("healthy")),
            "{name}"
        );
        trials += 1;
    }
    assert!(trials >= 20, "{trials}");
}
