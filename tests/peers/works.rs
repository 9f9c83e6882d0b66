//! A works of two tanks: its field of transmitters, its site file, and the commands that are given it.

use crate::modbus::ModbusServer;
use crate::patience::until;
use std::net::TcpListener;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::time::Duration;
use tempfile::TempDir;

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
        Self::written(SITE, field)
    }

    /// A site file of another text, in which FIELD and PAGE stand for where they are.
    pub fn written(text: &str, field: &str) -> Self {
        let works = Self {
            folder: tempfile::tempdir().expect("a temporary folder"),
            page: free_port(),
        };
        let text = text.replace("FIELD", field);
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

pub const STANDPIPE: &str = env!("CARGO_BIN_EXE_standpipe");

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

pub fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    listener.local_addr().expect("it is bound").port()
}
