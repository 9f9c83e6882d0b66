//! An independent mail server on loopback: aiosmtpd, in a process of its own. What its modes do stands in
//! `mail_server.py`.

use crate::patience::until;
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc;

pub struct MailServer {
    process: Child,
    modes: ChildStdin,
    lines: mpsc::Receiver<String>,
    /// What was taken so far.
    pub taken: Vec<Value>,
}

impl MailServer {
    pub fn start(port: u16, mode: &str) -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
        let python = folder.join(".cache/venv/bin/python");
        assert!(
            python.is_file(),
            "run `bash tests/run`, which makes {}",
            python.display()
        );
        let mut process = Command::new(python)
            .arg(folder.join("peers/mail_server.py"))
            .args([&port.to_string(), mode])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let output = process.stdout.take().expect("piped");
        let (sender, lines) = mpsc::channel();
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    return;
                }
            }
        });
        let mut server = Self {
            modes: process.stdin.take().expect("piped"),
            process,
            lines,
            taken: Vec::new(),
        };
        server.line("ready");
        server
    }

    pub fn mode(&mut self, mode: &str) {
        writeln!(self.modes, "{mode}").expect("it listens");
        self.line("done");
    }

    /// Waits for a message with those words in its subject.
    pub fn message(&mut self, words: &str) -> Value {
        until(words, || {
            self.look();
            let has = |one: &&Value| one["subject"].as_str().is_some_and(|it| it.contains(words));
            self.taken.iter().find(has).cloned()
        })
    }

    pub fn look(&mut self) {
        while let Ok(line) = self.lines.try_recv() {
            self.take(&line);
        }
    }

    fn line(&mut self, wanted: &str) {
        until(wanted, || {
            let line = self.lines.try_recv().ok()?;
            if line == wanted {
                return Some(());
            }
            self.take(&line);
            None
        });
    }

    fn take(&mut self, line: &str) {
        self.taken.push(serde_json::from_str(line).expect("JSON"));
    }
}

impl Drop for MailServer {
    fn drop(&mut self) {
        // Ended already is as good.
        let _ended = self.process.kill();
        let _waited = self.process.wait();
    }
}
