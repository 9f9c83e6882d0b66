//! The real program on a site file that a test writes: its answers, complaints and exit status.
//!
//! It holds no values: the source of each stands beside the check that uses this.

use serde_json::Value;
use std::path::PathBuf;
use std::process::Command;
use tempfile::TempDir;

pub struct SiteFile {
    folder: TempDir,
}

pub struct Answer {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl SiteFile {
    pub fn new(text: &str) -> Self {
        let folder = tempfile::tempdir().expect("a folder for the site file");
        std::fs::write(folder.path().join("site.toml"), text).expect("the site file is written");
        Self { folder }
    }

    pub fn path(&self) -> PathBuf {
        self.folder.path().join("site.toml")
    }

    /// `standpipe COMMAND SITE …`, and what it answers.
    pub fn ask(&self, command: &str, rest: &[&str]) -> Answer {
        let done = Command::new(env!("CARGO_BIN_EXE_standpipe"))
            .arg(command)
            .arg(self.path())
            .args(rest)
            .output()
            .expect("the program runs");
        Answer {
            status: done.status.code().expect("the program ends by itself"),
            out: String::from_utf8(done.stdout).expect("the answer is UTF-8"),
            err: String::from_utf8(done.stderr).expect("the complaint is UTF-8"),
        }
    }

    /// The JSON that a command answers; it must succeed without a complaint.
    pub fn json(&self, command: &str, rest: &[&str]) -> Value {
        let mut arguments = rest.to_vec();
        arguments.push("--json");
        let answer = self.ask(command, &arguments);
        assert_eq!(answer.status, 0, "{command} {rest:?}: {}", answer.err);
        assert_eq!(answer.err, "", "{command} {rest:?}");
        serde_json::from_str(&answer.out)
            .unwrap_or_else(|error| panic!("{command} {rest:?}: {error}: {}", answer.out))
    }

    /// `convert` of the tank for values of transmitters.
    pub fn reading(&self, tank: &str, settings: &[&str]) -> Value {
        let mut rest = vec![tank];
        for setting in settings {
            rest.extend(["--set", setting]);
        }
        self.json("convert", &rest)
    }
}

/// A number of an answer.
pub fn number(answer: &Value, name: &str) -> f64 {
    answer[name]
        .as_f64()
        .unwrap_or_else(|| panic!("no number {name} in {answer}"))
}

/// Whether a reading gives this reason.
pub fn has_reason(reading: &Value, reason: &str) -> bool {
    let reasons = reading["reasons"].as_array().expect("a list of reasons");
    reasons.iter().any(|given| given == reason)
}
