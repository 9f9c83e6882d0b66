//! Memory does not grow with the recording.

use crate::run::Bench;
use standpipe::quantity::Timestamp;
use standpipe::rehearsal::recording::{Mapping, Rows, Window, replay};
use std::io::{self, Read};
use std::sync::Arc;

const ROWS: u64 = 1_000_000;
/// The recording has 16 MB, its readings 1 GB.
const MOST_KB: u64 = 64 * 1024;

/// A recording that is made up while it is read.
struct MadeUp {
    row: u64,
    text: Vec<u8>,
    at: usize,
}

impl Read for MadeUp {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.at == self.text.len() && self.row < ROWS {
            self.text.clear();
            self.at = 0;
            for _ in 0..1000 {
                let kpa = 20.0 + (self.row % 600) as f64 / 100.0;
                self.text
                    .extend_from_slice(format!("{},{kpa:.3}\n", self.row).as_bytes());
                self.row += 1;
            }
        }
        let count = into.len().min(self.text.len() - self.at);
        into[..count].copy_from_slice(&self.text[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}

/// The most memory that this program has had so far.
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux says");
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let number = line.and_then(|line| line.split_whitespace().next());
    number.expect("it says").parse().expect("a number")
}

/// In a process of its own: what other tests take meanwhile is not in it.
#[test]
fn a_million_rows_take_no_memory() {
    let program = std::env::current_exe().expect("this program");
    let alone = ["--ignored", "--exact", "memory::alone", "--nocapture"];
    let output = std::process::Command::new(program).args(alone).output();
    let output = output.expect("it runs");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(
        output.status.success() && said.contains("1 passed"),
        "{said}{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
#[ignore = "run by a_million_rows_take_no_memory, in a process of its own"]
fn alone() {
    let site = Bench {
        poll_every: "1 s",
        ambient: r#"{ temperature = "10 degC" }"#,
        transmitters: &[("PT-1", "", "kPa")],
        temperature: "10 degC",
        hookup: r#"{ kind = "vented", transmitter = "PT-1", at = "0 m", vent = "9 m", high = { tap = "0 m" } }"#,
        alarms: "[[tank.alarm]]\ncode = \"LAH\"\nwatch = \"level\"\nabove = \"2.5 m\"\n",
    }
    .site();
    let plan = Arc::new(site.plan);
    let source = MadeUp {
        row: 0,
        text: b"seconds,PT-1\n".to_vec(),
        at: 0,
    };
    let (mapping, zero) = (Mapping::default(), Timestamp::UNIX_EPOCH);
    let rows = Rows::open(source, "made-up.csv", Arc::clone(&plan), &mapping, zero);
    let before = peak_kb();
    let form = replay(
        &plan,
        rows.expect("a recording"),
        None,
        Window::default(),
        &mut |_| Ok(()),
    );
    let form = form.expect("it goes through");
    let grown = peak_kb() - before;
    assert_eq!(form.rows, ROWS);
    assert!(form.alarms[0].annunciated > 1000, "{:?}", form.alarms);
    assert!(grown < MOST_KB, "{grown} kB");
}
