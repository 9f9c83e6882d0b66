//! `standpipe journal` beside the running program, and on what somebody has altered.

use crate::works::Works;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

#[tokio::test(flavor = "multi_thread")]
async fn what_happens_is_listed_followed_and_exported() {
    let works = Works::new();
    let running = works.run();
    works
        .until("it answers", async || works.status().await)
        .await;
    let mut follow = Command::new(env!("CARGO_BIN_EXE_standpipe"))
        .args([
            "journal",
            "follow",
            "--json",
            "--tank",
            "clearwell",
            "--kind",
            "alarm",
        ])
        .arg(works.site())
        .stdout(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut lines = BufReader::new(follow.stdout.take().expect("piped")).lines();
    let high = |text: &str| text.contains("\"LAH\"") && text.contains("\"UNACK\"");
    works.registers.level(0, 3.5);
    let line = tokio::task::spawn_blocking(move || lines.next());
    let line = line.await.expect("it ends").expect("a line").expect("text");
    assert!(high(&line), "{line}");
    follow.kill().expect("it is killed");
    follow.wait().expect("it ends");

    let said = |words: &[&str]| {
        let output = works.command(words);
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    let list = said(&["journal", "list"]);
    assert!(
        list.contains("start") && list.contains("clearwell LAH"),
        "{list}"
    );
    assert!(list.contains("NORM -> UNACK"), "{list}");
    assert!(high(&said(&[
        "journal", "list", "--json", "--kind", "alarm"
    ])));
    running.stop().await;
    let samples = said(&["journal", "export", "--format", "csv", "--samples"]);
    for series in [
        "transmitter,PT-0,value_si,good,",
        "tank,clearwell,level_m,good,3.5",
    ] {
        assert!(samples.contains(series), "{series} of {samples}");
    }
    assert!(said(&["journal", "verify"]).contains("all as they were written"));
}

#[tokio::test(flavor = "multi_thread")]
async fn an_altered_entry_is_named_and_the_answer_is_no() {
    let works = Works::new();
    let running = works.run();
    works
        .until("it answers", async || works.status().await)
        .await;
    running.stop().await;
    let database = rusqlite::Connection::open(&works.journal).expect("it opens");
    let sql = "UPDATE event SET text = 'nothing happened' WHERE number = 2";
    database.execute(sql, []).expect("it is altered");
    let output = works.command(&["journal", "verify"]);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("entry 2 is altered"), "{said}");
}
