//! `to` and `webhook`: those who can be told, each one once, whatever number of notices names them.

use crate::engine::RecipientId;
use crate::site::Problem;
use crate::site::check::mail::host_with;
use crate::site::check::outlets::secret;
use crate::site::check::person::mailbox;
use crate::site::file::Table;
use crate::site::settings::{NoticeWay, RecipientSettings, WebhookSettings, is_loopback};
use lettre::message::Mailbox;
use std::sync::Arc;
use std::time::Duration;

const MAIL_OF_PERSON: &str = "mail = \"ada@alder-rise.example\"";
const HTTPS_PORT: u16 = 443;
const HTTP_PORT: u16 = 80;

#[derive(Debug)]
pub struct Recipients {
    has_mail: bool,
    /// Names of people, and where those are reached who say it.
    people: Vec<(String, Option<Mailbox>)>,
    list: Vec<RecipientSettings>,
}

impl Recipients {
    pub fn new(root: &Table<'_>) -> Self {
        let people = root.tables("person").into_iter();
        let people =
            people.filter_map(|table| Some((table.text("name")?.to_owned(), mailbox(&table))));
        Self {
            has_mail: root.has("mail"),
            people: people.collect(),
            list: Vec::new(),
        }
    }

    /// Their names, and how they are reached.
    pub fn finish(self) -> (Vec<Arc<str>>, Vec<RecipientSettings>) {
        let names = self.list.iter().map(|one| one.name.as_str().into());
        (names.collect(), self.list)
    }

    /// Those of one notice.
    pub fn read(&mut self, table: &Table<'_>) -> Option<Vec<RecipientId>> {
        let give_up = table.duration("give_up");
        for (name, of) in [("header", "secret"), ("secret", "webhook")] {
            if table.has(name) && !table.has(of) {
                let problem = table.problem_at(name, format!("`{name}` without a `{of}`"));
                table.report(problem.cure(format!("add {}, or take it out", table.example(of))));
            }
        }
        match (table.has("to"), table.has("webhook")) {
            (true, false) => self.mailboxes(table, give_up?),
            (false, true) => {
                let webhook = webhook(table)?;
                let name = format!("webhook {}", webhook.host);
                Some(vec![self.add(name, NoticeWay::Webhook(webhook), give_up?)])
            }
            (false, false) => {
                let problem = Problem::new(table.place(), "nothing says who is to be told");
                let cure = format!(
                    "add {} or {}",
                    table.example("to"),
                    table.example("webhook")
                );
                table.report(problem.cure(cure));
                None
            }
            (true, true) => {
                let problem = table.problem_at("webhook", "a notice goes by e-mail or by webhook");
                table.report(problem.cure("make two notices of it"));
                None
            }
        }
    }

    fn mailboxes(&mut self, table: &Table<'_>, give_up: Duration) -> Option<Vec<RecipientId>> {
        if !self.has_mail {
            let problem = table.problem_at("to", "there is no server that e-mail can go by");
            table.report(problem.cure("add a table [mail] with `server` and `from`"));
        }
        let named = table.texts("to");
        let found: Vec<Option<RecipientId>> = named
            .iter()
            .map(|(text, place)| {
                let mailbox = match self.mailbox(text) {
                    Ok(mailbox) => mailbox,
                    Err((message, cure)) => {
                        table.report(Problem::new(place.clone(), message).cure(cure));
                        return None;
                    }
                };
                let name = mailbox.name.clone().unwrap_or(mailbox.email.to_string());
                Some(self.add(name, NoticeWay::Mail(mailbox.to_string()), give_up))
            })
            .collect();
        if found.is_empty() {
            let problem = table.problem_at("to", "`to` names nobody");
            table.report(problem.cure(format!("for example {}", table.example("to"))));
            return None;
        }
        found.into_iter().collect()
    }

    /// Of a person by name, or as it is written; else what is wrong and what to do.
    fn mailbox(&self, text: &str) -> Result<Mailbox, (String, String)> {
        let mut people = self.people.iter();
        match people.find(|(name, _)| name == text) {
            Some((_, Some(mailbox))) => Ok(mailbox.clone()),
            Some((name, None)) => Err((
                format!("nothing says where {name} gets e-mail"),
                format!("add it to that [[person]]: {MAIL_OF_PERSON}"),
            )),
            None => text.parse().map_err(|_| {
                let message = format!("\"{text}\" is no e-mail address, and no [[person]] has that name");
                let cure = "for example to = [\"Ada <ada@alder-rise.example>\"], or the name of a [[person]] with `mail`";
                (message, cure.to_owned())
            }),
        }
    }

    /// One that is there already keeps its place; the shorter of two times counts.
    fn add(&mut self, name: String, way: NoticeWay, give_up: Duration) -> RecipientId {
        let known = self.list.iter().position(|one| one.way == way);
        let place = known.unwrap_or_else(|| {
            self.list.push(RecipientSettings { name, way, give_up });
            self.list.len() - 1
        });
        let one = &mut self.list[place];
        one.give_up = one.give_up.min(give_up);
        RecipientId(place as u32)
    }
}

fn webhook(table: &Table<'_>) -> Option<WebhookSettings> {
    let text = table.text("webhook")?;
    let header = table.text("header");
    let secret = table
        .has("secret")
        .then(|| Some((header?.to_owned(), secret(table, "secret")?)));
    let cure = format!("for example {}", table.example("webhook"));
    let refuse = |message: &str| {
        table.report(table.problem_at("webhook", message).cure(cure.clone()));
        None
    };
    if let Some(header) = header.filter(|header| !is_header(header)) {
        let problem = table.problem_at("header", format!("\"{header}\" is no name of a header"));
        table.report(problem.cure("letters, digits and -: header = \"Authorization\""));
    }
    let (tls, rest) = match text.split_once("://") {
        Some(("https", rest)) => (true, rest),
        Some(("http", rest)) => (false, rest),
        _ => return refuse("`webhook` must begin with https://, or with http:// on this machine"),
    };
    let (authority, path) = match rest.find(['/', '?']) {
        Some(place) => rest.split_at(place),
        None => (rest, "/"),
    };
    let path = match path.starts_with('/') {
        true => path.to_owned(),
        false => format!("/{path}"),
    };
    if authority.contains('@') {
        return refuse("name and password do not stand in the address: give `header` and `secret`");
    }
    if path.contains(['#', ' ']) || !path.is_ascii() {
        return refuse("`webhook` is no address that can be asked for");
    }
    let usual = if tls { HTTPS_PORT } else { HTTP_PORT };
    let Some((host, port)) = host_with(authority, usual) else {
        return refuse("`webhook` must name a host, and may name a port");
    };
    if !tls && !is_loopback(&host) {
        return refuse("notices would go over the network for everybody to read");
    }
    Some(WebhookSettings {
        tls,
        host,
        port,
        path,
        secret: match secret {
            Some(secret) => Some(secret?),
            None => None,
        },
    })
}

/// RFC 9110, 5.6.2, without the marks that no header has.
fn is_header(name: &str) -> bool {
    let fits = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_';
    !name.is_empty() && name.bytes().all(fits)
}
