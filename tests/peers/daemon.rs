//! The program itself, `standpipe run`, on a site of its own; as people and machines meet it.

use crate::patience::{attempt, until};
use crate::works::{STANDPIPE, Works};
use serde_json::Value;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::Duration;

/// A running daemon, killed at the end of the test.
pub struct Daemon {
    process: Child,
    page: u16,
    log: PathBuf,
}

impl Daemon {
    /// Returns once its page answers.
    pub fn start(works: &Works) -> Self {
        let log = works.file("log");
        let daemon = Self::start_by(works, Command::new(STANDPIPE), |command| {
            let file = std::fs::File::create(&log).expect("writable");
            command.stdout(Stdio::null()).stderr(file);
        });
        daemon.answers();
        daemon
    }

    /// With its streams as `streams` sets them; nothing is waited for.
    pub fn start_by(
        works: &Works,
        mut command: Command,
        streams: impl FnOnce(&mut Command),
    ) -> Self {
        command.arg("run").arg(works.site()).stdin(Stdio::null());
        streams(&mut command);
        Self {
            process: command.spawn().expect("it starts"),
            page: works.page,
            log: works.file("log"),
        }
    }

    /// Run by a shell that has closed all three standard streams.
    pub fn start_closed(works: &Works) -> Self {
        let mut shell = Command::new("/bin/sh");
        shell.args(["-c", r#"exec "$0" "$@" <&- >&- 2>&-"#, STANDPIPE]);
        Self::start_by(works, shell, |_| {})
    }

    /// Started with pipes whose other ends nobody holds any more.
    pub fn start_piped(works: &Works) -> Self {
        let mut daemon = Self::start_by(works, Command::new(STANDPIPE), |command| {
            command.stdout(Stdio::piped()).stderr(Stdio::piped());
        });
        drop((daemon.process.stdout.take(), daemon.process.stderr.take()));
        daemon
    }

    /// Returns once its page answers.
    pub fn answers(&self) {
        until("the page answers", || {
            http(self.page, "/health/live").ok()?.ok()
        });
    }

    /// The body of an answer, which must be a good one.
    pub fn page(&self, path: &str) -> String {
        http(self.page, path)
            .expect("the page answers")
            .unwrap_or_else(|status| panic!("{path}: {status}"))
    }

    /// A tank as the interface gives it.
    pub fn tank(&self, name: &str) -> Value {
        serde_json::from_str(&self.page(&format!("/api/v1/tanks/{name}"))).expect("JSON")
    }

    /// An alarm of a tank, or of the system, as the interface gives it.
    pub fn alarm(&self, tank: &str, code: &str) -> Value {
        let all: Value = serde_json::from_str(&self.page("/api/v1/alarms")).expect("JSON");
        let mut alarms = all["alarms"].as_array().expect("a list").iter();
        let alarm = alarms.find(|alarm| alarm["tank"] == tank && alarm["code"] == code);
        alarm.expect("there is that alarm").clone()
    }

    /// Waits until a tank's reading is as wanted, and gives it.
    pub fn reading(&self, tank: &str, wanted: impl Fn(&Value) -> bool) -> Value {
        let mut last = Value::Null;
        let found = attempt(|| {
            last = self.tank(tank)["reading"].clone();
            wanted(&last).then(|| last.clone())
        });
        found.unwrap_or_else(|| panic!("the reading stays at {last}"))
    }

    /// Waits until an alarm is in that state.
    pub fn alarm_in(&self, tank: &str, code: &str, state: &str) -> Value {
        let mut last = Value::Null;
        let found = attempt(|| {
            last = self.alarm(tank, code);
            (last["state"] == state).then(|| last.clone())
        });
        found.unwrap_or_else(|| panic!("not {state}: the alarm stays at {last}"))
    }

    /// The value of one series of the metrics, written with its labels.
    pub fn metric(&self, series: &str) -> Option<f64> {
        let text = self.page("/metrics");
        let mut values = text.lines().filter_map(|line| {
            let value = line.strip_prefix(series)?.strip_prefix(' ')?;
            Some(value.parse().expect("a number"))
        });
        values.next()
    }

    /// A link error's counter.
    pub fn errors(&self, kind: &str) -> f64 {
        let series = format!("standpipe_link_errors_total{{kind=\"{kind}\",link=\"gallery\"}}");
        self.metric(&series).expect("it starts at zero")
    }

    pub fn link_up(&self) -> Option<f64> {
        self.metric("standpipe_link_up{link=\"gallery\"}")
    }

    /// All events since the start.
    pub fn event_count(&self) -> u64 {
        let text = self.page("/metrics");
        let counts = text
            .lines()
            .filter(|line| line.starts_with("standpipe_events_total{"));
        let counts = counts.filter_map(|line| line.rsplit(' ').next()?.parse::<u64>().ok());
        counts.sum()
    }

    /// SIGTERM, and its end.
    pub fn terminate(&mut self) -> ExitStatus {
        let asked = Command::new("kill")
            .arg(self.process.id().to_string())
            .status();
        assert!(asked.is_ok_and(|status| status.success()), "not asked");
        until("the daemon ends", || self.process.try_wait().expect("ours"))
    }

    /// Any other signal, by its name.
    pub fn signal(&self, name: &str) {
        let id = self.process.id().to_string();
        let sent = Command::new("kill").args(["-s", name, &id]).status();
        assert!(sent.is_ok_and(|status| status.success()), "not sent");
    }

    /// SIGKILL.
    pub fn kill(&mut self) {
        self.process.kill().expect("it runs");
        self.process.wait().expect("it ends");
    }
}

impl Drop for Daemon {
    #[expect(
        clippy::print_stderr,
        reason = "a failed test shows what the program said"
    )]
    fn drop(&mut self) {
        // Ended already is as good.
        let _ended = self.process.kill();
        let _waited = self.process.wait();
        if std::thread::panicking() {
            let log = std::fs::read_to_string(&self.log).unwrap_or_default();
            eprintln!("the daemon's log:\n{log}");
        }
    }
}

/// The body of an answer of status 200, else its status line.
fn http(port: u16, path: &str) -> std::io::Result<Result<String, String>> {
    let mut stream = TcpStream::connect(("127.0.0.1", port))?;
    stream.set_read_timeout(Some(Duration::from_secs(10)))?;
    let request = format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes())?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer)?;
    let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
    assert!(!head.contains("chunked"), "its length is known beforehand");
    Ok(if head.starts_with("HTTP/1.1 200 ") {
        Ok(body.to_owned())
    } else {
        Err(head.lines().next().unwrap_or_default().to_owned())
    })
}
