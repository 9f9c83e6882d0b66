//! Commands to a running daemon, over its local socket: those of alarms, `confirm`, `status`.

use super::{NO, load, quantity};
use crate::people::socket;
use crate::quantity::{Dimension, span};
use crate::wire::{Answer, Request};
use anyhow::bail;
use serde_json::Value;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

/// Which alarm, and who asks.
#[derive(Debug, clap::Args)]
struct Alarm {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// The alarm's code
    #[arg(value_name = "CODE")]
    code: String,
    #[command(flatten)]
    who: Who,
}

/// Who asks.
#[derive(Debug, clap::Args)]
pub(super) struct Who {
    /// Your name, for the record; may be left out where you are the one [[person]] of this user
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
}

impl Who {
    pub fn name(self) -> String {
        self.by.unwrap_or_default()
    }
}

/// Acknowledge an alarm: you have seen it and act on it. It stays active until the process is back.
#[derive(Debug, clap::Args)]
pub struct Acknowledge {
    #[command(flatten)]
    alarm: Alarm,
    /// The number of the event that you answer; refused if a newer one stands
    #[arg(long, value_name = "NUMBER")]
    activation: Option<u64>,
}

/// Reset an alarm that stayed latched after the process was back; acknowledge it first.
#[derive(Debug, clap::Args)]
pub struct Reset {
    #[command(flatten)]
    alarm: Alarm,
}

/// Hide an alarm for a time: it is shown as shelved, and its condition runs on underneath.
#[derive(Debug, clap::Args)]
pub struct Shelve {
    #[command(flatten)]
    alarm: Alarm,
    /// How long, for example "2 h"; the site file says how long at most
    #[arg(long = "for", value_name = "TIME")]
    time: String,
    /// Why, for the record
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// End it already when the condition clears
    #[arg(long)]
    once: bool,
}

/// Show a shelved alarm again before its time is up.
#[derive(Debug, clap::Args)]
pub struct Unshelve {
    #[command(flatten)]
    alarm: Alarm,
}

/// Take an alarm out of service for maintenance, until it is returned.
#[derive(Debug, clap::Args)]
pub struct OutOfService {
    #[command(flatten)]
    alarm: Alarm,
    /// Why, for the record
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
}

/// Return an alarm to service; if its condition holds it is told at once.
#[derive(Debug, clap::Args)]
pub struct Return {
    #[command(flatten)]
    alarm: Alarm,
}

/// Confirm what was seen at the tank: `level` after a jump, `leg-drained` after a flooded low leg.
#[derive(Debug, clap::Args)]
pub struct Confirm {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// What is confirmed
    #[arg(value_name = "WHAT", value_enum)]
    what: Seen,
    #[command(flatten)]
    who: Who,
}

#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Seen {
    /// The sight glass agrees with the reading as it stands
    Level,
    /// The low leg has been drained
    LegDrained,
}

/// Say what is in a tank now, where the site file names several products.
#[derive(Debug, clap::Args)]
pub struct Product {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The tank's name
    #[arg(value_name = "TANK")]
    tank: String,
    /// The product's name
    #[arg(value_name = "PRODUCT")]
    product: String,
    #[command(flatten)]
    who: Who,
}

/// Show everything as it stands now.
#[derive(Debug, clap::Args)]
pub struct Status {
    /// The site file of the running daemon
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// Answer as JSON
    #[arg(long)]
    json: bool,
}

impl Acknowledge {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let activation = self.activation;
        self.alarm.ask(out, |tank, code, by| Request::Ack {
            tank,
            code,
            by,
            activation,
        })
    }
}

impl Reset {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let request = |tank, code, by| Request::Reset { tank, code, by };
        self.alarm.ask(out, request)
    }
}

impl Shelve {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let Self {
            alarm,
            time,
            reason,
            once,
        } = self;
        let time_s = quantity(&time, Dimension::Time)?.si;
        alarm.ask(out, |tank, code, by| Request::Shelve {
            tank,
            code,
            by,
            time_s,
            reason,
            once,
        })
    }
}

impl Unshelve {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let request = |tank, code, by| Request::Unshelve { tank, code, by };
        self.alarm.ask(out, request)
    }
}

impl OutOfService {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let Self { alarm, reason } = self;
        alarm.ask(out, |tank, code, by| Request::OutOfService {
            tank,
            code,
            by,
            reason,
        })
    }
}

impl Return {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let request = |tank, code, by| Request::Return { tank, code, by };
        self.alarm.ask(out, request)
    }
}

impl Alarm {
    fn ask(
        self,
        out: &mut impl Write,
        request: impl FnOnce(String, String, String) -> Request,
    ) -> anyhow::Result<ExitCode> {
        let request = request(self.tank, self.code, self.who.name());
        tell(ask(&self.site, &request)?, out)
    }
}

impl Confirm {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let Self {
            site,
            tank,
            what,
            who,
        } = self;
        let by = who.name();
        let request = match what {
            Seen::Level => Request::ConfirmLevel { tank, by },
            Seen::LegDrained => Request::ConfirmLegDrained { tank, by },
        };
        tell(ask(&site, &request)?, out)
    }
}

impl Product {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        let Self {
            site,
            tank,
            product,
            who,
        } = self;
        let by = who.name();
        tell(ask(&site, &Request::Product { tank, product, by })?, out)
    }
}

impl Status {
    pub fn run(self, out: &mut impl Write) -> anyhow::Result<ExitCode> {
        match ask(&self.site, &Request::Status)? {
            Answer::Status(status) if self.json => writeln!(out, "{status}")?,
            Answer::Status(status) => print_status(&status, out)?,
            other => return tell(other, out),
        }
        Ok(ExitCode::SUCCESS)
    }
}

pub(super) fn ask(site: &Path, request: &Request) -> anyhow::Result<Answer> {
    let site = load(site)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    Ok(runtime.block_on(socket::ask(&site.commands.socket, request))?)
}

pub(super) fn tell(answer: Answer, out: &mut impl Write) -> anyhow::Result<ExitCode> {
    match answer {
        Answer::Done(text) => {
            writeln!(out, "{text}")?;
            Ok(ExitCode::SUCCESS)
        }
        Answer::Refused(text) => {
            writeln!(std::io::stderr(), "refused: {text}")?;
            Ok(ExitCode::from(NO))
        }
        Answer::Status(_) => bail!("the daemon answered something else than was asked"),
    }
}

fn print_status(status: &Value, out: &mut impl Write) -> std::io::Result<()> {
    let text = |value: &Value| value.as_str().unwrap_or("").to_owned();
    writeln!(
        out,
        "{} at {}",
        text(&status["site"]),
        text(&status["time"])
    )?;
    for link in status["links"].as_array().into_iter().flatten() {
        let state = if link["up"] == true {
            "up".to_owned()
        } else {
            format!("DOWN: {}", text(&link["trouble"]))
        };
        writeln!(out, "  link {:<16} {state}", text(&link["link"]))?;
    }
    for contact in status["contacts"].as_array().into_iter().flatten() {
        let state = match contact["on"].as_bool() {
            Some(true) => "on",
            Some(false) => "off",
            None => "not known",
        };
        let means = text(&contact["means"]);
        writeln!(
            out,
            "  contact {:<13} {state:<10} {means}",
            text(&contact["tag"])
        )?;
    }
    for signal in status["work"].as_array().into_iter().flatten() {
        let work = &signal["work"];
        writeln!(
            out,
            "  work {:<16} by {}, permit {}, until {}{}",
            text(&signal["tag"]),
            text(&work["by"]),
            text(&work["permit"]),
            text(&work["until"]),
            if work["overdue"] == true {
                ", OVERDUE"
            } else {
                ""
            }
        )?;
    }
    for test in status["tests"].as_array().into_iter().flatten() {
        if test["overdue"] == true {
            let passed = test["passed"].as_str().unwrap_or("never");
            let (tank, code) = (text(&test["tank"]), text(&test["code"]));
            writeln!(out, "  test of {tank} {code} is due, last passed: {passed}")?;
        }
    }
    if let Some(since) = status["horn"]["since"].as_str() {
        writeln!(out, "  horn sounds since {since}")?;
    }
    for tank in status["tanks"].as_array().into_iter().flatten() {
        let reading = &tank["reading"];
        writeln!(
            out,
            "  tank {:<16} {:<10} {}",
            text(&tank["name"]),
            level_words(reading),
            text(&reading["quality"])
        )?;
        if let Some(product) = tank["product"].as_str() {
            writeln!(out, "         product: {product}")?;
        }
        let test = &tank["test"];
        if test.is_object() {
            writeln!(
                out,
                "         UNDER TEST of {} by {} until {}: {} put in at {}",
                text(&test["code"]),
                text(&test["by"]),
                text(&test["until"]),
                text(&test["value"]),
                text(&test["tag"])
            )?;
        }
        for reason in reading["reasons"].as_array().into_iter().flatten() {
            writeln!(out, "         {}", text(reason))?;
        }
        print_alarms(&tank["alarms"], "         ", out)?;
        let transfer = &tank["transfer"];
        if transfer.is_object() {
            let target_m = transfer["target_m"].as_f64().unwrap_or(f64::NAN);
            let left = transfer["left_m3"].as_f64();
            let left = left.map_or("what is left is not known".to_owned(), |left_m3| {
                format!("{left_m3:.2} m3 left")
            });
            let state = match (&transfer["overdue"], &transfer["reached"]) {
                (Value::Bool(true), _) => ", STOP OVERDUE",
                (_, Value::Bool(true)) => ", target reached",
                _ => "",
            };
            let expected = transfer["expected_s"].as_f64();
            let expected = expected.map(|after_s| {
                let after = Duration::from_secs((after_s / 10.0).round() as u64 * 10);
                format!(", about {} to go", span(after))
            });
            writeln!(
                out,
                "         transfer to {target_m:.3} m by {}: {left}{}{state}",
                text(&transfer["by"]),
                expected.unwrap_or_default()
            )?;
        }
        if tank["rounds"]["overdue"] == true {
            writeln!(out, "         {}", super::rounds::due(&tank["rounds"]))?;
        }
        for finding in tank["findings"].as_array().into_iter().flatten() {
            writeln!(
                out,
                "         {} {}: {}",
                text(&finding["confidence"]),
                text(&finding["verdict"]),
                text(&finding["evidence"])
            )?;
        }
        // Diagnosis tells of a jump too, in the same words.
        let told = |jump: &&str| {
            let mut findings = tank["findings"].as_array().into_iter().flatten();
            findings.any(|finding| finding["evidence"] == **jump)
        };
        if let Some(jump) = tank["jump"]["text"].as_str().filter(|jump| !told(jump)) {
            writeln!(out, "         {jump}")?;
        }
    }
    writeln!(out, "  system")?;
    print_alarms(&status["system"], "         ", out)?;
    for alarm in status["gone"].as_array().into_iter().flatten() {
        writeln!(out, "  gone from the site file: {}", text(&alarm["tank"]))?;
        print_alarms(&Value::Array(vec![alarm.clone()]), "         ", out)?;
    }
    Ok(())
}

/// Those that are not normal.
fn print_alarms(alarms: &Value, indent: &str, out: &mut impl Write) -> std::io::Result<()> {
    let text = |value: &Value| value.as_str().unwrap_or("").to_owned();
    let alarms = alarms.as_array().into_iter().flatten();
    for alarm in alarms.filter(|alarm| alarm["state"] != "NORM") {
        writeln!(
            out,
            "{indent}{} {} since {}, priority {}",
            text(&alarm["code"]),
            text(&alarm["state"]),
            text(&alarm["since"]),
            text(&alarm["priority"])
        )?;
        for hidden in hidden_words(alarm) {
            writeln!(out, "{indent}  {hidden}")?;
        }
        for told in alarm["follows"].as_array().into_iter().flatten() {
            let (tank, code) = (text(&told["tank"]), text(&told["code"]));
            writeln!(out, "{indent}  it tells for {tank} {code}")?;
        }
        if let Some(response) = alarm["response"].as_str() {
            writeln!(out, "{indent}  response: {response}")?;
        }
    }
    Ok(())
}

/// What hides an alarm: by whom, why, until when.
fn hidden_words(alarm: &Value) -> Vec<String> {
    let text = |value: &Value| value.as_str().unwrap_or("").to_owned();
    let mut words = Vec::new();
    let shelf = &alarm["shelf"];
    if shelf.is_object() {
        words.push(format!(
            "shelved by {} until {}: {}",
            text(&shelf["by"]),
            text(&shelf["until"]),
            text(&shelf["reason"])
        ));
    }
    let out = &alarm["out_of_service"];
    if out.is_object() {
        let (by, since) = (text(&out["by"]), text(&out["since"]));
        words.push(format!("taken out of service by {by}, {since}"));
    }
    if let Some(cause) = alarm["suppression"]["cause"].as_str() {
        words.push(format!("suppressed by design: {cause}"));
    }
    if !words.is_empty() && alarm["active"] == true {
        words.push("its condition is true".to_owned());
    }
    words
}

fn level_words(reading: &Value) -> String {
    match (
        &reading["level_m"],
        &reading["level_at_least_m"],
        &reading["level_at_most_m"],
    ) {
        (Value::Number(level), ..) => format!("{:.3} m", level.as_f64().unwrap_or(f64::NAN)),
        (_, Value::Number(least), _) => format!(">= {:.3} m", least.as_f64().unwrap_or(f64::NAN)),
        (_, _, Value::Number(most)) => format!("<= {:.3} m", most.as_f64().unwrap_or(f64::NAN)),
        _ => "unknown".to_owned(),
    }
}
