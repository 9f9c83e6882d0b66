//! Somebody else's MQTT client (mosquitto_sub), with a session that the broker keeps.

use crate::program;
use serde_json::Value;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

const PATIENCE: Duration = Duration::from_secs(30);

pub struct Subscriber {
    process: Child,
    lines: mpsc::Receiver<String>,
}

impl Subscriber {
    /// Subscribes, and returns once the broker has said yes.
    pub fn start(port: u16, filter: &str) -> Self {
        // Line by line, also into a pipe.
        let mut process = Command::new(program::find("stdbuf"))
            .arg("-oL")
            .arg(program::find("mosquitto_sub"))
            .args(["-h", "127.0.0.1", "-p", &port.to_string(), "-t", filter])
            .args(["-i", "onlooker", "-c", "-q", "1", "-d", "-F", "> %t %p"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the client starts");
        let output = BufReader::new(process.stdout.take().expect("it is piped"));
        let (sender, lines) = mpsc::channel();
        std::thread::spawn(move || {
            for line in output.lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    return;
                }
            }
        });
        let subscriber = Self { process, lines };
        while !subscriber.line().starts_with("Subscribed") {}
        subscriber
    }

    /// The next message: topic and payload.
    pub fn next(&self) -> (String, String) {
        loop {
            let line = self.line();
            // Every other line tells of the protocol.
            if let Some((topic, payload)) =
                line.strip_prefix("> ").and_then(|it| it.split_once(' '))
            {
                return (topic.to_owned(), payload.to_owned());
            }
        }
    }

    /// The next one that is as wanted; all before it are passed over.
    pub fn until(&self, wanted: impl Fn(&str, &str) -> bool) -> (String, String) {
        loop {
            let (topic, payload) = self.next();
            if wanted(&topic, &payload) {
                return (topic, payload);
            }
        }
    }

    /// The next event that is as wanted.
    pub fn event(&self, wanted: impl Fn(&Value) -> bool) -> Value {
        loop {
            let (_, payload) = self.until(|topic, _| topic.ends_with("/event"));
            let event = serde_json::from_str(&payload).expect("JSON");
            if wanted(&event) {
                return event;
            }
        }
    }

    fn line(&self) -> String {
        self.lines
            .recv_timeout(PATIENCE)
            .expect("a message in time")
    }
}

impl Drop for Subscriber {
    fn drop(&mut self) {
        // Ended already is as good.
        let _ended = self.process.kill();
        let _waited = self.process.wait();
    }
}

/// What the broker keeps on a topic, for whoever comes now.
pub fn retained(port: u16, topic: &str) -> Option<String> {
    let output = Command::new(program::find("mosquitto_sub"))
        .args(["-h", "127.0.0.1", "-p", &port.to_string(), "-t", topic])
        .args(["-C", "1", "-W", "3", "--retained-only", "-F", "%p"])
        .output()
        .expect("the client starts");
    let text = String::from_utf8(output.stdout).expect("text");
    (!text.is_empty()).then(|| text.trim_end().to_owned())
}

/// The same, as JSON.
pub fn retained_json(port: u16, topic: &str) -> Value {
    let text = retained(port, topic).unwrap_or_else(|| panic!("nothing is kept on {topic}"));
    serde_json::from_str(&text).expect("JSON")
}
