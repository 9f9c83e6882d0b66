//! Plain checked settings for the rooms that do I/O; they need to know nothing else of the site file.

mod person;

pub use crate::engine::{ContactId, LinkId, TransmitterId};
pub use person::{PersonSettings, Role, SystemUser};
use std::path::PathBuf;
use std::time::Duration;

/// One Modbus session and what is read over it.
#[derive(Clone, Debug, PartialEq)]
pub struct LinkSettings {
    pub id: LinkId,
    pub name: String,
    pub address: LinkAddress,
    pub poll_every: Duration,
    pub timeout: Duration,
    pub points: Vec<Point>,
    pub bits: Vec<Bit>,
}

#[derive(Clone, Debug, PartialEq)]
pub enum LinkAddress {
    /// `host:port`.
    Tcp(String),
}

/// One number in a device's registers.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    pub transmitter: TransmitterId,
    pub tag: String,
    pub device: u8,
    pub register: Register,
    pub number: NumberType,
    pub order: WordOrder,
}

/// One on/off input of a device.
#[derive(Clone, Debug, PartialEq)]
pub struct Bit {
    pub contact: ContactId,
    pub tag: String,
    pub device: u8,
    pub register: Register,
    /// Which bit of a word, 0 the least; none where the register is a bit itself.
    pub bit: Option<u8>,
}

/// A register's place, zero-based as on the wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Register {
    pub space: Space,
    pub address: u16,
}

/// Which of the tables of the Modbus application protocol (section 4.3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Space {
    /// 16-bit words.
    Input,
    Holding,
    /// Single bits.
    Discrete,
    Coil,
}

impl Space {
    /// The word that the site file has for it.
    pub fn name(self) -> &'static str {
        match self {
            Space::Input => "input",
            Space::Holding => "holding",
            Space::Discrete => "discrete",
            Space::Coil => "coil",
        }
    }
    /// Whether it holds single bits.
    pub fn is_bits(self) -> bool {
        matches!(self, Space::Discrete | Space::Coil)
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NumberType {
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl NumberType {
    /// How many registers it takes.
    pub fn words(self) -> u16 {
        match self {
            NumberType::I16 | NumberType::U16 => 1,
            NumberType::I32 | NumberType::U32 | NumberType::F32 => 2,
            NumberType::F64 => 4,
        }
    }
}

/// Order of the bytes of a number over its registers; A is the most significant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WordOrder {
    Abcd,
    Cdab,
    Badc,
    Dcba,
}

#[derive(Clone, Debug, PartialEq)]
pub struct BrokerSettings {
    pub host: String,
    pub port: u16,
    pub tls: bool,
    pub user: Option<String>,
    pub password: Option<Secret>,
    /// Prefix of all topics.
    pub topic: String,
    pub reading_every: Duration,
}

/// Where a secret is found; it never stands in the site file.
#[derive(Clone, Debug, PartialEq)]
pub enum Secret {
    File(PathBuf),
    Environment(String),
}

/// The sign that the alarms are watched over.
#[derive(Clone, Debug, PartialEq)]
pub struct HeartbeatSettings {
    pub file: Option<PathBuf>,
    pub every: Duration,
}

impl Default for HeartbeatSettings {
    fn default() -> Self {
        Self {
            file: None,
            every: Duration::from_secs(10),
        }
    }
}

/// How notices go out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NoticeSettings {
    pub mail: Option<MailSettings>,
    /// In the order of the plan's recipients.
    pub recipients: Vec<RecipientSettings>,
}

/// One of those who can be told, and how long that is tried.
#[derive(Clone, Debug, PartialEq)]
pub struct RecipientSettings {
    pub name: String,
    pub way: NoticeWay,
    pub give_up: Duration,
}

#[derive(Clone, Debug, PartialEq)]
pub enum NoticeWay {
    /// The address, with a name before it or not (RFC 5322, 3.4: a mailbox).
    Mail(String),
    Webhook(WebhookSettings),
}

#[derive(Clone, Debug, PartialEq)]
pub struct WebhookSettings {
    pub tls: bool,
    pub host: String,
    pub port: u16,
    /// With its query, as it is asked for; it may itself be a secret.
    pub path: String,
    /// The name of a header, and where its value is found.
    pub secret: Option<(String, Secret)>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct MailSettings {
    pub host: String,
    pub port: u16,
    pub security: MailSecurity,
    pub from: String,
    pub user: Option<String>,
    pub password: Option<Secret>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MailSecurity {
    /// TLS from the first byte (RFC 8314).
    Tls,
    /// TLS once connected, or nothing is sent (RFC 3207).
    StartTls,
    Unencrypted,
}

#[derive(Clone, Debug, PartialEq)]
pub struct ListenerSettings {
    /// `address:port` that the page, the interface and the metrics are served at.
    pub listen: String,
    /// Further names that it may be asked for by, in lower case.
    pub names: Vec<String>,
    /// Whoever reaches it may read; else only who has signed in.
    pub open: bool,
    /// How long somebody stays signed in.
    pub session: Duration,
    /// What is shown is no real plant's.
    pub simulated: bool,
}

impl ListenerSettings {
    /// The host that it listens at, without its port and without brackets.
    pub fn host(&self) -> &str {
        let host = self.listen.rsplit_once(':').map_or("", |(host, _)| host);
        host.trim_matches(['[', ']'])
    }
}

/// Whether a host is this machine as it calls itself: nobody else reaches it there (RFC 6761, section 6.3;
/// RFC 1122, section 3.2.1.3; RFC 4291, section 2.5.3).
pub fn is_loopback(host: &str) -> bool {
    let host = host.trim_end_matches('.').to_ascii_lowercase();
    let address = host.parse::<std::net::IpAddr>();
    host == "localhost"
        || host.ends_with(".localhost")
        || address.is_ok_and(|address| address.is_loopback())
}

#[derive(Clone, Debug, PartialEq)]
pub struct JournalSettings {
    pub file: PathBuf,
    pub keep_samples: Option<Duration>,
    pub keep_events: Option<Duration>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct CommandSettings {
    /// The local socket of the daemon.
    pub socket: PathBuf,
}

/// Units that people are shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShowUnits {
    pub level: &'static crate::quantity::Unit,
    pub volume: &'static crate::quantity::Unit,
    pub pressure: &'static crate::quantity::Unit,
    pub temperature: &'static crate::quantity::Unit,
    pub flow: &'static crate::quantity::Unit,
    pub mass: &'static crate::quantity::Unit,
}

/// A name as topics, labels and commands take it: lower case, letters and digits, all else one `-`.
pub fn fold(name: &str) -> String {
    let mut folded = String::with_capacity(name.len());
    for c in name.chars() {
        if c.is_alphanumeric() {
            folded.extend(c.to_lowercase());
        } else if !folded.is_empty() && !folded.ends_with('-') {
            folded.push('-');
        }
    }
    folded.truncate(folded.trim_end_matches('-').len());
    folded
}

#[cfg(test)]
mod tests {
    use super::{fold, is_loopback};

    #[test]
    fn this_machine_has_many_names_for_itself() {
        for own in [
            "localhost",
            "LOCALHOST.",
            "page.localhost",
            "127.0.0.1",
            "127.3.2.1",
            "::1",
        ] {
            assert!(is_loopback(own), "{own}");
        }
        for other in ["0.0.0.0", "::", "192.0.2.7", "localhost.example", ""] {
            assert!(!is_loopback(other), "{other}");
        }
    }

    #[test]
    fn names_fold_to_letters_digits_and_lines() {
        assert_eq!(fold("Alder Rise"), "alder-rise");
        assert_eq!(fold("  PDT_101 (old)"), "pdt-101-old");
        assert_eq!(fold("???"), "");
    }
}
