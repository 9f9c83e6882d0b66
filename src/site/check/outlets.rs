//! `[mqtt]`, `[http]`, `[journal]`, `[commands]`: where things go, and come in.

use super::address::{endpoint, host_and_port};
use crate::site::file::Table;
use crate::site::settings::{
    BrokerSettings, CommandSettings, HeartbeatSettings, JournalSettings, ListenerSettings, Secret,
};
use std::path::{Path, PathBuf};

/// The ports of MQTT and of MQTT over TLS (IANA service names and port numbers: mqtt, secure-mqtt).
const MQTT_PORT: u16 = 1883;
const MQTTS_PORT: u16 = 8883;

pub fn mqtt(root: &Table<'_>) -> Option<BrokerSettings> {
    let table = root.table("mqtt")?;
    let broker = broker(&table);
    let (user, password) = credentials(&table);
    let (topic, reading_every) = (topic(&table), table.duration("reading_every"));
    let (host, port, tls) = broker?;
    Some(BrokerSettings {
        host,
        port,
        tls,
        user,
        password,
        topic: topic?,
        reading_every: reading_every?,
    })
}

fn broker(table: &Table<'_>) -> Option<(String, u16, bool)> {
    let text = table.text("broker")?;
    let refuse = |message: &str, cure: &str| {
        table.report(table.problem_at("broker", message).cure(cure));
        None
    };
    let Some((scheme, rest)) = text.split_once("://") else {
        return refuse(
            "`broker` does not say how to reach it",
            "broker = \"mqtts://broker.example:8883\", or mqtt:// without encryption",
        );
    };
    let tls = match scheme {
        "mqtts" => true,
        "mqtt" => false,
        _ => {
            return refuse(
                "`broker` must begin with mqtts:// or mqtt://",
                "broker = \"mqtts://broker.example:8883\"",
            );
        }
    };
    if rest.contains('@') {
        return refuse(
            "name and password do not stand in the address",
            "give `user`, and `password` as { file = \"…\" } or { env = \"…\" }",
        );
    }
    let usual = if tls { MQTTS_PORT } else { MQTT_PORT };
    let with_port = if rest
        .rsplit_once(':')
        .is_some_and(|(_, port)| !port.ends_with(']'))
    {
        rest.to_owned()
    } else {
        format!("{rest}:{usual}")
    };
    match host_and_port(&with_port) {
        Some((host, port)) => Some((host.trim_matches(['[', ']']).to_owned(), port, tls)),
        None => refuse(
            "`broker` must name a host, and may name a port",
            "broker = \"mqtts://broker.example:8883\"",
        ),
    }
}

/// Name and password to sign in with.
pub fn credentials(table: &Table<'_>) -> (Option<String>, Option<Secret>) {
    let password = table
        .has("password")
        .then(|| secret(table, "password"))
        .flatten();
    let user = table.text("user").map(str::to_owned);
    if table.has("password") && !table.has("user") {
        let example = table.example("user");
        table.report(
            table
                .problem_at("password", "a password without a `user`")
                .cure(format!("add {example}, or take the password out")),
        );
    }
    (user, password)
}

/// Where a secret is found; the secret itself never stands in the file.
pub fn secret(table: &Table<'_>, name: &'static str) -> Option<Secret> {
    let cure = format!("{}, or {{ env = \"NAME\" }}", table.example(name));
    if !table.is_table(name) {
        let problem = table.problem_at(name, format!("a {name} never stands in the site file"));
        table.report(problem.cure(cure));
        return None;
    }
    let found = table.table(name)?;
    match (found.text("file"), found.text("env")) {
        (Some(file), None) => Some(Secret::File(beside(table, file))),
        (None, Some(name)) => Some(Secret::Environment(name.to_owned())),
        _ => {
            let problem = crate::site::Problem::new(
                found.place(),
                format!("a {name} is found in one place: a file or an environment variable"),
            );
            found.report(problem.cure(cure));
            None
        }
    }
}

fn topic(table: &Table<'_>) -> Option<String> {
    let topic = table.text("topic")?;
    let is_right = !topic.contains(['+', '#', '\0', ' '])
        && !topic.starts_with(['/', '$'])
        && !topic.ends_with('/');
    if !is_right {
        let problem = table.problem_at("topic", format!("\"{topic}\" cannot begin a topic"));
        table.report(
            problem.cure("words with / between them, without + # or blanks: topic = \"standpipe\""),
        );
    }
    is_right.then(|| topic.to_owned())
}

pub fn http(root: &Table<'_>) -> Option<ListenerSettings> {
    let table = root.table("http")?;
    let listen = endpoint(&table, "listen");
    let (reading, session) = (table.choice("reading"), table.duration("session"));
    let names = names(&table);
    Some(ListenerSettings {
        listen: listen?,
        names: names?,
        open: reading? == "open",
        session: session?,
        simulated: false,
    })
}

/// Names alone: what a browser has between `http://` and the port.
fn names(table: &Table<'_>) -> Option<Vec<String>> {
    let named = table.texts("names").into_iter();
    let names: Vec<Option<String>> = named
        .map(|(name, place)| {
            let is_name = !name.is_empty()
                && name
                    .chars()
                    .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.');
            if !is_name {
                let message = format!("\"{name}\" is no name of a host");
                let problem = crate::site::Problem::new(place, message);
                let cure = "the name alone, without http:// and port: names = [\"standpipe.alder-rise.example\"]";
                table.report(problem.cure(cure));
            }
            is_name.then(|| name.trim_end_matches('.').to_ascii_lowercase())
        })
        .collect();
    names.into_iter().collect()
}

pub fn journal(root: &Table<'_>) -> JournalSettings {
    let table = root.table("journal");
    let file = table.as_ref().and_then(|table| table.text("file"));
    let keep = table.as_ref().and_then(|table| table.table("keep"));
    JournalSettings {
        file: match file {
            Some(file) => beside(root, file),
            None => root.document().path().with_extension("db"),
        },
        keep_samples: keep.as_ref().and_then(|keep| keep.duration("samples")),
        keep_events: keep.as_ref().and_then(|keep| keep.duration("events")),
    }
}

pub fn commands(root: &Table<'_>) -> CommandSettings {
    let table = root.table("commands");
    CommandSettings {
        socket: match table.as_ref().and_then(|table| table.text("socket")) {
            Some(socket) => beside(root, socket),
            None => root.document().path().with_extension("sock"),
        },
    }
}

/// A path of the site file, relative to where that is.
pub fn beside(table: &Table<'_>, path: &str) -> PathBuf {
    table
        .document()
        .path()
        .parent()
        .unwrap_or(Path::new(""))
        .join(path)
}

pub fn heartbeat(root: &Table<'_>) -> Option<HeartbeatSettings> {
    let table = root.table("heartbeat");
    let Some(table) = table else {
        return Some(HeartbeatSettings::default());
    };
    Some(HeartbeatSettings {
        file: table.text("file").map(|file| beside(root, file)),
        every: table.duration("every")?,
    })
}
