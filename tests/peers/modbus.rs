//! An independent Modbus TCP server on loopback: pymodbus, in a process of its own.
//!
//! ```ignore
//! let mut server = ModbusServer::start(json!({ "1": { "input": { "0": [555, 0] } } }));
//! server.number(1, "holding", 10, 3.4, "f32", "CDAB");
//! server.mode("hang");
//! server.kill();
//! server.restart();   // same port, same registers, no faults
//! ```
//! What each command does stands in `modbus_server.py`. Every call is bounded in time and panics on trouble.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::ops::RangeInclusive;
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

/// How long the server may take for one thing; the start of Python on a busy machine is the longest.
const PATIENCE: Duration = Duration::from_secs(30);

pub struct ModbusServer {
    pub port: u16,
    registers: Value,
    /// What was set since the start.
    kept: Vec<Value>,
    running: Option<Running>,
}

struct Running {
    process: Child,
    commands: ChildStdin,
    lines: mpsc::Receiver<String>,
}

impl ModbusServer {
    /// Starts it on a free port. `registers`: device, space, first address, words.
    pub fn start(registers: Value) -> ModbusServer {
        let (running, port) = Running::start(0, &registers, &[]);
        ModbusServer {
            port,
            registers,
            kept: Vec::new(),
            running: Some(running),
        }
    }

    /// `host:port`.
    pub fn address(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// Sets registers of the "input" or "holding" space.
    pub fn set(&mut self, device: u8, space: &str, address: u16, words: &[u16]) {
        self.keep(json!({ "do": "set", "device": device, "space": space, "address": address, "words": words }));
    }

    /// Sets the registers of one number, laid out by pymodbus: "i16" to "f64", "ABCD" to "DCBA".
    pub fn number(
        &mut self,
        device: u8,
        space: &str,
        address: u16,
        value: f64,
        number: &str,
        order: &str,
    ) {
        self.keep(json!({
            "do": "number", "device": device, "space": space, "address": address,
            "value": value, "type": number, "order": order,
        }));
    }

    /// "normal", or "hang": accepts connections and requests and never answers.
    pub fn mode(&mut self, mode: &str) {
        self.obey(&json!({ "do": "mode", "mode": mode }));
    }

    /// One device keeps silent, or no longer.
    pub fn silence(&mut self, device: u8, on: bool) {
        self.obey(&json!({ "do": "silence", "device": device, "on": on }));
    }

    /// A request that touches these registers gets this exception; by code 0 no longer.
    pub fn refuse(&mut self, device: u8, space: &str, addresses: RangeInclusive<u16>, code: u8) {
        let (first, last) = addresses.into_inner();
        self.obey(&json!({
            "do": "refuse", "device": device, "space": space, "first": first, "last": last, "code": code,
        }));
    }

    /// Ends the process at once, as a power failure would.
    pub fn kill(&mut self) {
        drop(self.running.take().expect("it runs"));
    }

    /// Starts it again after [`kill`](Self::kill): same port, same registers, no faults.
    pub fn restart(&mut self) {
        assert!(self.running.is_none(), "it still runs");
        let (running, port) = Running::start(self.port, &self.registers, &self.kept);
        assert_eq!(port, self.port);
        self.running = Some(running);
    }

    fn keep(&mut self, command: Value) {
        self.obey(&command);
        self.kept.push(command);
    }

    fn obey(&mut self, command: &Value) {
        let running = self.running.as_mut().expect("it runs");
        writeln!(running.commands, "{command}").expect("it takes a command");
        assert_eq!(running.line(), "done", "{command}");
    }
}

impl Running {
    fn start(port: u16, registers: &Value, kept: &[Value]) -> (Running, u16) {
        let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
        let python = tests.join(".cache/venv/bin/python");
        assert!(
            python.exists(),
            "the Python packages of these tests are not installed: run `bash tests/run`, which does it"
        );
        let mut process = Command::new(python)
            .arg(tests.join("peers/modbus_server.py"))
            .args([
                port.to_string(),
                registers.to_string(),
                json!(kept).to_string(),
            ])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("Python starts");
        let commands = process.stdin.take().expect("it is piped");
        let output = BufReader::new(process.stdout.take().expect("it is piped"));
        let (sender, lines) = mpsc::channel();
        std::thread::spawn(move || {
            for line in output.lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    return;
                }
            }
        });
        let running = Running {
            process,
            commands,
            lines,
        };
        let port = running.line().parse().expect("its first line is the port");
        (running, port)
    }

    fn line(&self) -> String {
        self.lines
            .recv_timeout(PATIENCE)
            .expect("the server says something; see above for its own error")
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // Ended already is as good.
        let _ended = self.process.kill();
        let _waited = self.process.wait();
    }
}
