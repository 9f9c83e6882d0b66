//! The wall clock stepped back and forward by hours under the running program (libfaketime; the monotonic
//! clock is left alone, as it is when a real clock is set).

use crate::listener::Listener;
use crate::works::Works;
use standpipe::engine::EventKind;
use std::path::PathBuf;
use std::process::Command;

/// Where Debian puts it.
fn library() -> PathBuf {
    let places = std::fs::read_dir("/usr/lib")
        .expect("/usr/lib is there")
        .flatten();
    let found = places
        .map(|place| place.path().join("faketime/libfaketimeMT.so.1"))
        .find(|library| library.is_file());
    found.expect("libfaketime is not installed: run `bash tests/run`, which installs it")
}

#[tokio::test(flavor = "multi_thread")]
async fn a_clock_that_is_stepped_by_hours_harms_neither_order_nor_alarms() {
    let works = Works::new();
    let listener = Listener::start(works.broker.port).await;
    let offset = works.folder.path().join("offset");
    // By another file, so that nobody reads half of it.
    let set = |hours: &str| {
        let written = works.folder.path().join("offset.new");
        std::fs::write(&written, format!("{hours}\n")).expect("writable");
        std::fs::rename(&written, &offset).expect("renamed");
    };
    set("+0");
    let program = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_standpipe"));
        command
            .env("LD_PRELOAD", library())
            .env("FAKETIME_TIMESTAMP_FILE", &offset)
            .env("FAKETIME_NO_CACHE", "1")
            .env("DONT_FAKE_MONOTONIC", "1");
        command
    };
    let mut running = works.run_by(program());
    for (turn, hours) in ["+0", "-5h", "+7h", "-1h"].iter().enumerate() {
        set(hours);
        for level in [3.5, 2.0] {
            let before = listener.last_number();
            works.registers.level(0, level);
            works
                .until("an alarm goes out", async || {
                    let heard = listener.heard();
                    let alarms = heard.iter().filter(|event| {
                        event["kind"] == "alarm" && event["number"].as_u64() > Some(before)
                    });
                    (alarms.count() > 0).then_some(())
                })
                .await;
        }
        if turn == 1 {
            // Killed while the clock stands five hours behind; the next step comes while nobody watches.
            running.kill();
            set("+7h");
            running = works.run_by(program());
        }
    }
    running.stop().await;
    works
        .until("the broker has the stop", async || {
            let last = works.events().last().map(|event| event.number);
            (last == Some(listener.last_number())).then_some(())
        })
        .await;
    let events = works.events();
    listener.assert_complete(&events);
    let verdict = works.reader().verify().expect("the journal is read");
    assert_eq!((verdict.trouble, verdict.gaps), (None, Vec::new()));
    let steps: Vec<_> = events
        .iter()
        .filter(|event| event.kind == EventKind::Clock)
        .collect();
    assert_eq!(
        steps.len(),
        2,
        "-5 h and, after the restart, -8 h: {steps:?}"
    );
    let back = events
        .windows(2)
        .filter(|pair| pair[1].time < pair[0].time)
        .count();
    assert_eq!(back, 2, "times go back twice, numbers never");
}
