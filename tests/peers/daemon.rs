//! The program itself, `standpipe run`, on a site of its own; as people and machines meet it.

use crate::modbus::ModbusServer;
use serde_json::Value;
use standpipe::daemon::clock::up;
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Output, Stdio};
use std::time::Duration;
use tempfile::TempDir;

/// How long anything may take: the longest wait of a back-off, the 10 s after which silence is bad, and
/// time for a busy machine.
const PATIENCE: Duration = Duration::from_secs(40);

pub const POLL_EVERY: Duration = Duration::from_millis(200);
/// The on-delay of the high alarm.
pub const ON_DELAY: Duration = Duration::from_secs(1);
pub const TOPIC: &str = "works/alder-rise";

/// Two tanks of water on one link: `clearwell`, open, with a high alarm at 4 m; `soft`, closed, wet leg.
const SITE: &str = r#"
[site]
name = "Alder Rise"
gravity = "9.8116 m/s2"
ambient = { temperature = "20 degC", pressure = "101.325 kPa(a)" }

[[link]]
name = "gallery"
tcp = "FIELD"
poll_every = "200 ms"
timeout = "300 ms"

[[transmitter]]
tag = "LT-101"
link = "gallery"
register = "input 0"
type = "f32"
measures = "gauge"
unit = "kPa"
span = ["0 kPa", "60 kPa"]
accuracy = "0.1 %"

[[transmitter]]
tag = "PDT-102"
link = "gallery"
register = "holding 10"
type = "f32"
order = "CDAB"
measures = "differential"
unit = "kPa"
span = ["-65 kPa", "0 kPa"]
accuracy = "0.1 %"

[[tank]]
name = "clearwell"
vessel = { shape = "upright-cylinder", diameter = "4.2 m", height = "6.0 m" }
liquid = { kind = "water", temperature = "20 degC" }
hookup = { kind = "vented", transmitter = "LT-101", at = "0.25 m" }

[[tank.alarm]]
code = "LAH"
watch = "level"
above = "4.00 m"
deadband = "0.05 m"
on_delay = "1 s"
priority = "high"
cause = "Inlet valve left open"
consequence = "Overflow to the drain"
response = "Close the inlet valve XV-101"
respond_within = "1 min"

[[tank]]
name = "soft"
vessel = { shape = "upright-cylinder", diameter = "2.0 m", height = "7.0 m" }
liquid = { kind = "water", temperature = "40 degC" }
gas = { kind = "nitrogen", pressure = "5 kPa(g)", temperature = "20 degC" }

[tank.hookup]
kind = "differential"
transmitter = "PDT-102"
at = "-0.50 m"
high = { tap = "0.30 m", leg = { kind = "water", temperature = "20 degC" } }
low = { tap = "6.20 m", leg = { kind = "water", temperature = "20 degC" } }

[http]
listen = "127.0.0.1:PAGE"
"#;

/// A server with those two transmitters: clearwell at about 3.6 m, soft at about 3.1 m.
pub fn field() -> ModbusServer {
    let mut server = ModbusServer::start(serde_json::json!({}));
    set_clearwell(&mut server, 33.0);
    server.number(1, "holding", 10, -30.0, "f32", "CDAB");
    server
}

/// What LT-101 reads, kPa.
pub fn set_clearwell(server: &mut ModbusServer, kilopascals: f64) {
    server.number(1, "input", 0, kilopascals, "f32", "ABCD");
}

/// A site file in a folder of its own.
pub struct Works {
    folder: TempDir,
    pub page: u16,
}

impl Works {
    pub fn new(field: &ModbusServer) -> Self {
        Self::reading(&field.address())
    }

    pub fn with_broker(field: &ModbusServer, broker: u16) -> Self {
        let works = Self::new(field);
        works.add(&format!(
            "[mqtt]\nbroker = \"mqtt://127.0.0.1:{broker}\"\ntopic = \"works\"\nreading_every = \"200 ms\"\n"
        ));
        works
    }

    pub fn reading(field: &str) -> Self {
        let works = Self {
            folder: tempfile::tempdir().expect("a temporary folder"),
            page: free_port(),
        };
        let text = SITE.replace("FIELD", field);
        let text = text.replace("PAGE", &works.page.to_string());
        std::fs::write(works.site(), text).expect("writable");
        works
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The site file.
    pub fn site(&self) -> PathBuf {
        self.file("site.toml")
    }

    /// The daemon's socket, where a site file that names none has it.
    pub fn socket(&self) -> PathBuf {
        self.file("site.sock")
    }

    /// Adds to the site file.
    pub fn add(&self, text: &str) {
        let before = std::fs::read_to_string(self.site()).expect("readable");
        std::fs::write(self.site(), format!("{before}\n{text}")).expect("writable");
    }

    /// `standpipe FIRST SITE REST…`, to its end.
    pub fn standpipe(&self, first: &str, rest: &[&str]) -> Told {
        let mut command = Command::new(STANDPIPE);
        command
            .arg(first)
            .arg(self.site())
            .args(rest)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let mut process = command.spawn().expect("it starts");
        until("the command ends", || {
            process.try_wait().expect("it can be waited for")
        });
        process
            .wait_with_output()
            .map(Told::from)
            .expect("its output is read")
    }
}

const STANDPIPE: &str = env!("CARGO_BIN_EXE_standpipe");

/// How a command ended.
#[derive(Debug)]
pub struct Told {
    pub code: Option<i32>,
    pub out: String,
    pub error: String,
}

impl From<Output> for Told {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code(),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            error: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }
}

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

    /// An alarm of a tank as the interface gives it.
    pub fn alarm(&self, tank: &str, code: &str) -> Value {
        let tank = self.tank(tank);
        let alarms = tank["alarms"].as_array().expect("a list");
        let alarm = alarms.iter().find(|alarm| alarm["code"] == code);
        alarm.expect("the tank has that alarm").clone()
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

    /// SIGKILL.
    pub fn kill(&mut self) {
        self.process.kill().expect("it runs");
        self.process.wait().expect("it ends");
    }
}

impl Drop for Daemon {
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

/// Tries again and again until there is something, within the longest patience.
fn attempt<T>(mut found: impl FnMut() -> Option<T>) -> Option<T> {
    let begun = up();
    loop {
        if let Some(found) = found() {
            return Some(found);
        }
        if up() - begun > PATIENCE {
            return None;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// The same; what never comes fails the test.
pub fn until<T>(what: &str, found: impl FnMut() -> Option<T>) -> T {
    attempt(found).unwrap_or_else(|| panic!("in vain: {what}"))
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

pub fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    listener.local_addr().expect("it is bound").port()
}
