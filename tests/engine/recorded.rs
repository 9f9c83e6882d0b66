//! A run that was journalled, recorded and replayed gives the alarms that it gave live.

use crate::scene::Scene;
use standpipe::engine::alarm::AlarmState;
use standpipe::engine::{Event, EventKind, Input, Sample, TransmitterId};
use standpipe::journal::{Journal, Opened, Reader, Recorder};
use standpipe::quantity::Timestamp;
use standpipe::rehearsal::recording::{Mapping, RowWriter, Rows, Told, Window, replay};
use standpipe::site::settings::JournalSettings;
use std::path::Path;
use std::time::Duration;

/// Which alarm came up or went, and when.
type Change = (String, String, AlarmState, Timestamp);

fn changes(events: &[Event]) -> Vec<Change> {
    let alarms = events.iter().filter(|event| event.kind == EventKind::Alarm);
    let mut changes: Vec<Change> = alarms
        .filter_map(|event| {
            let (tank, code) = (event.tank.as_deref()?, event.code.as_deref()?);
            Some((tank.to_owned(), code.to_owned(), event.to?, event.time))
        })
        .collect();
    changes.sort_by(|a, b| (&a.0, &a.1, a.3).cmp(&(&b.0, &b.1, b.3)));
    changes
}

/// The demo's twenty minutes; in between a transmitter falls silent for a while, and later answers no number.
async fn live(file: &Path) -> Scene {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/alder-rise.toml");
    let site = std::fs::read_to_string(&path).expect("the demo's site");
    let script = path.with_file_name("demo.toml");
    let script = std::fs::read_to_string(script).expect("the demo's script");
    let mut scene = Scene::start(&site, &path, &script);
    let settings = JournalSettings {
        file: file.to_owned(),
        keep_samples: None,
        keep_events: None,
    };
    let Opened { journal, .. } =
        Journal::open(&settings, false, scene.rig.now.utc).expect("a new journal");
    let mut recorder = Recorder::default();
    let tags = scene.rig.plan.transmitters.iter();
    let broken = tags
        .clone()
        .position(|of| *of.tag == *"LT-102")
        .expect("it is there");
    for second in 1..=1200 {
        scene.silent = match second {
            300..420 => Some("LT-101"),
            700..760 => Some("LT-102"),
            _ => None,
        };
        scene.second();
        if (700..760).contains(&second) {
            let nan = Sample {
                transmitter: TransmitterId(broken as u32),
                raw: Ok(f64::NAN),
            };
            scene.rig.step(Input::Samples(&[nan]));
        }
        // What is due between two reads is told at its moment, as it is live.
        let due = scene.rig.engine.due();
        let ahead = due.map(|due| due.saturating_sub(scene.rig.now.up));
        if let Some(ahead) = ahead.filter(|ahead| *ahead < Duration::from_secs(1)) {
            journal.sample(recorder.take(&scene.rig.engine.snapshot()));
            let whole = scene.rig.now;
            scene.rig.pass(ahead.as_secs_f64());
            scene.rig.tick();
            journal.sample(recorder.take(&scene.rig.engine.snapshot()));
            scene.rig.now = whole;
        }
        journal.sample(recorder.take(&scene.rig.engine.snapshot()));
    }
    journal.sample(recorder.rest());
    journal.close().await;
    scene
}

#[tokio::test]
async fn a_recorded_run_gives_its_alarms_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("site.db");
    let scene = live(&file).await;
    let plan = scene.rig.plan.clone();

    let journal = Reader::open(&file).expect("a journal");
    let (from, to) = journal.sampled().expect("readable").expect("samples");
    let mut recording = Vec::new();
    let mut writer = RowWriter::new(&mut recording, &plan, None);
    writer.take(&journal, from, to).expect("samples");
    let rows = writer.finish().expect("rows");
    assert!(rows >= 1200, "{rows} rows");

    let (mapping, zero) = (Mapping::default(), Timestamp::UNIX_EPOCH);
    let source = &recording[..];
    let rows = Rows::open(source, "recorded.csv", plan.clone(), &mapping, zero).expect("readable");
    assert!(rows.ignored().is_empty() && rows.missing().is_empty());
    let mut events = Vec::new();
    replay(&plan, rows, None, Window::default(), &mut |told| {
        if let Told::Event(event) = told {
            events.push(event.clone());
        }
        Ok(())
    })
    .expect("it goes through");

    let (live, again) = (changes(&scene.rig.events), changes(&events));
    assert!(live.len() >= 6, "{live:?}");
    for code in ["LAH", "MEASUREMENT"] {
        assert!(
            live.iter().any(|change| change.1 == code),
            "{code}: {live:?}"
        );
    }
    let what = |changes: &[Change]| -> Vec<(String, String, AlarmState)> {
        changes
            .iter()
            .map(|(tank, code, to, _)| (tank.clone(), code.clone(), *to))
            .collect()
    };
    assert_eq!(what(&live), what(&again));
    for (live, again) in live.iter().zip(&again) {
        let apart_s = again.3.duration_since(live.3).as_secs_f64().abs();
        assert!(apart_s <= 1.0, "{live:?} {again:?}");
    }
}
