//! A disk that fills: a tmpfs of limited size, in a mount namespace of its own.

use crate::listener::Listener;
use crate::works::Works;
use std::path::PathBuf;
use std::process::Command;
use std::time::Duration;

const PLACE: &str = "STANDPIPE_TEST_SMALL_DISK";

#[test]
fn a_full_disk_stops_no_alarm_and_nothing_is_lost_once_there_is_room() {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let script = format!(
        "mount -t tmpfs -o size=2m tmpfs \"${PLACE}\" && exec \"$0\" --exact full_disk::on_a_small_disk --ignored --nocapture"
    );
    let output = Command::new("unshare")
        .args(["-rm", "sh", "-c", &script])
        .arg(std::env::current_exe().expect("this test"))
        .env(PLACE, folder.path())
        .output()
        .expect("unshare is there");
    let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    assert!(said.contains("1 passed"), "{said}");
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "the part of the test above that it starts in a namespace of its own"]
async fn on_a_small_disk() {
    let place = PathBuf::from(std::env::var_os(PLACE).expect("started by the test above"));
    let works = Works::with_journal(Some(&place));
    let listener = Listener::start(works.broker.port).await;
    let running = works.run();
    flap(&works, &listener, 1).await;

    // The disk is full: alarms go on and out, and the trouble is told.
    let filler = place.join("filler");
    let full = std::fs::write(&filler, vec![0; 4 << 20]);
    assert!(full.is_err(), "it was larger than the disk");
    let before = listener.last_number();
    flap(&works, &listener, 40).await;
    let journal_events = || -> Vec<String> {
        let heard = listener.heard();
        let of_journal = heard.iter().filter(|event| event["kind"] == "journal");
        of_journal.map(|event| event["text"].to_string()).collect()
    };
    works
        .until("the full disk is told", async || {
            works.registers.level(
                0,
                if listener.last_number() % 2 == 0 {
                    3.5
                } else {
                    2.0
                },
            );
            journal_events()
                .iter()
                .any(|text| text.contains("can't be written"))
                .then_some(())
        })
        .await;
    assert!(metric(&works, "standpipe_journal_writable") == Some(0.0));
    let unwritten = listener.last_number();
    flap(&works, &listener, 5).await;
    assert!(listener.last_number() > unwritten && unwritten > before);
    let written = works
        .reader()
        .last(&Default::default(), 1)
        .expect("it is read");
    assert!(
        written[0].number < listener.last_number(),
        "they go out unwritten"
    );

    // There is room again: all of it is written.
    std::fs::remove_file(&filler).expect("removed");
    works
        .until("the journal is written again", async || {
            journal_events()
                .iter()
                .any(|text| text.contains("nothing was lost"))
                .then_some(())
        })
        .await;
    assert_eq!(metric(&works, "standpipe_journal_writable"), Some(1.0));
    assert_eq!(
        metric(&works, "standpipe_journal_lost_events_total"),
        Some(0.0)
    );
    running.stop().await;
    tokio::time::sleep(Duration::from_millis(300)).await;
    let verdict = works.reader().verify().expect("it is read");
    assert_eq!((verdict.trouble, verdict.gaps), (None, Vec::new()));
    listener.assert_complete(&works.events());

    // A start on a full disk: it remembers, and goes on.
    assert!(
        std::fs::write(&filler, vec![0; 4 << 20]).is_err(),
        "it fills the disk"
    );
    let last = works.events().last().expect("there are some").number;
    let running = works.run();
    works
        .until("it starts all the same", async || {
            (listener.last_number() > last).then_some(())
        })
        .await;
    flap(&works, &listener, 3).await;
    std::fs::remove_file(&filler).expect("removed");
    works
        .until("all of it is written", async || {
            let written = works
                .reader()
                .last(&Default::default(), 1)
                .expect("it is read");
            (written[0].number == listener.last_number()).then_some(())
        })
        .await;
    running.stop().await;
    tokio::time::sleep(Duration::from_millis(300)).await;
    let verdict = works.reader().verify().expect("it is read");
    assert_eq!((verdict.trouble, verdict.gaps), (None, Vec::new()));
    listener.assert_complete(&works.events());
}

/// So many alarms come, and each goes out.
async fn flap(works: &Works, listener: &Listener, times: u32) {
    for _ in 0..times {
        for level in [3.5, 2.0] {
            let before = listener.last_number();
            works.registers.level(0, level);
            works
                .until("an alarm goes out", async || {
                    (listener.last_number() > before).then_some(())
                })
                .await;
        }
    }
}

fn metric(works: &Works, name: &str) -> Option<f64> {
    let url = format!("http://127.0.0.1:{}/metrics", works.page);
    let output = Command::new("curl")
        .args(["-s", "-m", "5", &url])
        .output()
        .expect("curl is there");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let line = text
        .lines()
        .find(|line| line.starts_with(&format!("{name} ")))?;
    line.rsplit(' ').next()?.parse().ok()
}
