//! The simulated plant, served by `standpipe simulate`, read by two clients that are not ours: pymodbus and
//! libmodbus. What they read is worked out by hand from what the site file says.

use crate::patience::until;
use crate::works::{STANDPIPE, free_port};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use tempfile::TempDir;

const GRAVITY_M_S2: f64 = 9.8116;
/// Dry air at 20 °C and 101.325 kPa as an ideal gas with R = 287.052 87 J/(kg·K) (ISO 2533:1975, 2.1), kg/m³.
const AIR_KG_M3: f64 = PRESSURE_PA / (287.052_87 * 293.15);
const PRESSURE_PA: f64 = 101_325.0;
/// Height of each transmitter above the tank's lowest point.
const AT_M: f64 = 0.25;
/// The vessels' height; they are vented there.
const TOP_M: f64 = 6.0;

/// A tank of water for each word order and one on a 4–20 mA card: its number, its level, its register.
const TANKS: [(&str, f64, &str); 5] = [
    (
        "101",
        1.0,
        "register = \"input 10\"\ntype = \"f32\"\norder = \"ABCD\"",
    ),
    (
        "102",
        2.0,
        "register = \"holding 20\"\ntype = \"f32\"\norder = \"CDAB\"",
    ),
    (
        "103",
        3.0,
        "register = \"input 30\"\ntype = \"f32\"\norder = \"BADC\"",
    ),
    (
        "104",
        4.0,
        "register = \"holding 40\"\ntype = \"f32\"\norder = \"DCBA\"",
    ),
    (
        "105",
        2.5,
        "device = 7\nregister = \"input 0\"\ntype = \"i16\"\nscale = { raw = [4000, 20000], value = [0.0, 40.0], signal = \"4-20 mA\" }",
    ),
];

/// What to ask for, and what must be answered.
fn questions() -> Vec<(String, Expected)> {
    let pressure_kpa = |level_m: f64| {
        // The air in the tank has the pressure at the vent, by a little less than at the barometer at 0 m.
        let vent_pa = PRESSURE_PA - AIR_KG_M3 * GRAVITY_M_S2 * TOP_M;
        let gas_kg_m3 = AIR_KG_M3 * vent_pa / PRESSURE_PA;
        // p = g·(ρ·(h − z) + ρgas·(top − h) − ρair·(top − z))
        let water_kg_m2 = 1000.0 * (level_m - AT_M);
        let air_kg_m2 = gas_kg_m3 * (TOP_M - level_m) - AIR_KG_M3 * (TOP_M - AT_M);
        GRAVITY_M_S2 * (water_kg_m2 + air_kg_m2) / 1000.0
    };
    let number = |question: &str, level_m: f64| {
        let single_precision = 2e-6 * pressure_kpa(level_m);
        (
            question.to_owned(),
            Expected::Near(pressure_kpa(level_m), single_precision),
        )
    };
    let text =
        |question: &str, answer: &str| (question.to_owned(), Expected::Text(answer.to_owned()));
    let raw = (4000.0 + 16_000.0 * pressure_kpa(2.5) / 40.0).round();
    vec![
        number("1 input 10 f32 ABCD", 1.0),
        number("1 holding 20 f32 CDAB", 2.0),
        number("1 input 30 f32 BADC", 3.0),
        number("1 holding 40 f32 DCBA", 4.0),
        text("7 input 0 i16 ABCD", &format!("{raw:.0}")),
        text("1 discrete 3 bit -", "0"),
        text("1 coil 4 bit -", "1"),
        text("1 holding 12 u16 -", "8"),
        // There is no such register; no such device behind the gateway.
        text("1 input 99 u16 -", "exception 2"),
        text("9 input 0 u16 -", "exception 11"),
    ]
}

#[derive(Debug)]
enum Expected {
    /// A number, and how far it may be off.
    Near(f64, f64),
    Text(String),
}

fn site() -> String {
    let mut text = format!(
        "[site]\nname = \"Alder Rise\"\ngravity = \"{GRAVITY_M_S2} m/s2\"\n\
         ambient = {{ temperature = \"20 degC\", pressure = \"101.325 kPa(a)\" }}\n\
         [[link]]\nname = \"gallery\"\ntcp = \"127.0.0.1:1502\"\n"
    );
    for (tag, bit, invert) in [
        ("HS-1", "discrete 3", false),
        ("HS-2", "coil 4", true),
        ("HS-3", "holding 12.3", true),
    ] {
        text += &format!(
            "[[contact]]\ntag = \"{tag}\"\nlink = \"gallery\"\nbit = \"{bit}\"\ninvert = {invert}\n"
        );
    }
    for (name, _, register) in TANKS {
        text += &format!(
            "[[transmitter]]\ntag = \"LT-{name}\"\nlink = \"gallery\"\n{register}\nunit = \"kPa\"\n\
             span = [\"0 kPa\", \"40 kPa\"]\n\
             [[tank]]\nname = \"{name}\"\n\
             vessel = {{ shape = \"upright-cylinder\", diameter = \"3 m\", height = \"{TOP_M} m\" }}\n\
             liquid = {{ kind = \"constant\", density = \"1000 kg/m3\" }}\n\
             hookup = {{ kind = \"vented\", transmitter = \"LT-{name}\", at = \"{AT_M} m\" }}\n"
        );
    }
    text
}

fn script() -> String {
    let starts = TANKS.map(|(name, level_m, _)| {
        format!("[[tank]]\nname = \"{name}\"\nlevel = \"{level_m} m\"\n")
    });
    format!("site = \"site.toml\"\n{}", starts.concat())
}

/// `standpipe simulate` on a site and a script of its own, ended with the test.
pub struct Simulated {
    process: Child,
    pub port: u16,
    pub folder: TempDir,
}

impl Simulated {
    pub fn start(site: &str, script: &str, port: u16) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let write = |name: &str, text: &str| {
            std::fs::write(folder.path().join(name), text).expect("writable");
        };
        write("site.toml", site);
        write("script.toml", script);
        let process = Command::new(STANDPIPE)
            .arg("simulate")
            .arg(folder.path().join("script.toml"))
            .args(["--port", &port.to_string()])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let mut simulated = Self {
            process,
            port,
            folder,
        };
        simulated.announced();
        simulated
    }

    /// Returns once it says that it listens; what it says later is read by nobody.
    fn announced(&mut self) {
        let output = self.process.stdout.take().expect("it is piped");
        let (sender, said) = mpsc::channel();
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                let _nobody_listens_any_more = sender.send(line);
            }
        });
        until("the plant listens", || {
            said.try_iter().find(|line| line.contains("(Modbus TCP)"))
        });
    }
}

impl Drop for Simulated {
    fn drop(&mut self) {
        // Ended already is as good.
        let _ended = self.process.kill();
        let _waited = self.process.wait();
    }
}

/// Puts all questions to a client, and compares.
fn compare(mut client: Command, port: u16) {
    let mut process = client
        .arg(port.to_string())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the client starts");
    let questions = questions();
    let mut input = process.stdin.take().expect("it is piped");
    for (question, _) in &questions {
        writeln!(input, "{question}").expect("it takes a question");
    }
    drop(input);
    let output = process.wait_with_output().expect("it ends");
    assert!(output.status.success(), "{:?}", output.status);
    let text = String::from_utf8(output.stdout).expect("text");
    let answers: Vec<&str> = text.lines().collect();
    assert_eq!(answers.len(), questions.len(), "{text}");
    for ((question, expected), answer) in questions.iter().zip(answers) {
        let is_it = match expected {
            Expected::Text(text) => answer == text,
            Expected::Near(number, off) => {
                let read: f64 = answer.parse().unwrap_or(f64::NAN);
                (read - number).abs() <= *off
            }
        };
        assert!(is_it, "{question}: {answer}, expected {expected:?}");
    }
}

#[test]
fn pymodbus_reads_the_plant() {
    let plant = Simulated::start(&site(), &script(), free_port());
    let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let python = tests.join(".cache/venv/bin/python");
    assert!(
        python.exists(),
        "the Python packages of these tests are not installed: run `bash tests/run`, which does it"
    );
    let mut client = Command::new(python);
    client.arg(tests.join("peers/modbus_client.py"));
    compare(client, plant.port);
}

#[test]
fn libmodbus_reads_the_plant() {
    let plant = Simulated::start(&site(), &script(), free_port());
    let client = plant.folder.path().join("client");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/peers/libmodbus_client.c");
    let compiled = Command::new("cc")
        .args(["-Wall", "-Wextra", "-Werror", "-o"])
        .arg(&client)
        .arg(source)
        .arg("-lmodbus")
        .output()
        .expect("a C compiler");
    assert!(
        compiled.status.success(),
        "the client does not compile; libmodbus is in Debian's package libmodbus-dev, which `bash tests/run` \
         installs:\n{}",
        String::from_utf8_lossy(&compiled.stderr)
    );
    compare(Command::new(client), plant.port);
}
