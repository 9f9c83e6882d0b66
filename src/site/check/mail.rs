//! `[mail]`: the server that e-mail goes by.

use super::address::host_and_port;
use super::outlets::credentials;
use crate::site::file::Table;
use crate::site::settings::{MailSecurity, MailSettings, is_loopback};
use lettre::message::Mailbox;

/// Ports of submission, of submission over TLS and of relaying (RFC 6409, RFC 8314, RFC 5321).
const STARTTLS_PORT: u16 = 587;
const TLS_PORT: u16 = 465;
const SMTP_PORT: u16 = 25;

pub fn mail(root: &Table<'_>) -> Option<MailSettings> {
    let table = root.table("mail")?;
    let server = server(&table);
    let from = table.text("from").filter(|from| is_mailbox(&table, from));
    let (user, password) = credentials(&table);
    let unencrypted = table.boolean("unencrypted");
    let (host, port, security) = server?;
    if security == MailSecurity::Unencrypted && !is_loopback(&host) {
        refuse_unencrypted(
            &table,
            unencrypted? && password.is_none(),
            password.is_some(),
        );
    }
    Some(MailSettings {
        host,
        port,
        security,
        from: from?.to_owned(),
        user,
        password,
    })
}

fn refuse_unencrypted(table: &Table<'_>, is_stated: bool, has_password: bool) {
    if is_stated {
        return;
    }
    let (message, cure) = match has_password {
        true => (
            "the password would go over the network for everybody to read",
            "server = \"smtps://…\" or \"starttls://…\"",
        ),
        false => (
            "notices would go over the network for everybody to read",
            "server = \"smtps://…\" or \"starttls://…\"; where the network is your own, state it: unencrypted = true",
        ),
    };
    table.report(table.problem_at("server", message).cure(cure));
}

fn server(table: &Table<'_>) -> Option<(String, u16, MailSecurity)> {
    let text = table.text("server")?;
    let cure = format!("for example {}", table.example("server"));
    let refuse = |message: &str| {
        table.report(table.problem_at("server", message).cure(cure));
        None
    };
    let known = match text.split_once("://") {
        Some(("smtps", rest)) => Some((rest, TLS_PORT, MailSecurity::Tls)),
        Some(("starttls", rest)) => Some((rest, STARTTLS_PORT, MailSecurity::StartTls)),
        Some(("smtp", rest)) => Some((rest, SMTP_PORT, MailSecurity::Unencrypted)),
        _ => None,
    };
    let Some((rest, usual, security)) = known else {
        return refuse("`server` must begin with smtps://, starttls:// or smtp://");
    };
    if rest.contains('@') {
        return refuse("name and password do not stand in the address: give `user` and `password`");
    }
    match host_with(rest, usual) {
        Some((host, port)) => Some((host, port, security)),
        None => refuse("`server` must name a host, and may name a port"),
    }
}

/// A host with its port, or with the usual one.
pub fn host_with(text: &str, usual: u16) -> Option<(String, u16)> {
    let has_port = text
        .rsplit_once(':')
        .is_some_and(|(_, port)| !port.ends_with(']'));
    let with_port = match has_port {
        true => text.to_owned(),
        false => format!("{text}:{usual}"),
    };
    let (host, port) = host_and_port(&with_port)?;
    Some((host.trim_matches(['[', ']']).to_owned(), port))
}

fn is_mailbox(table: &Table<'_>, text: &str) -> bool {
    let is_right = text.parse::<Mailbox>().is_ok();
    if !is_right {
        let problem = table.problem_at("from", format!("\"{text}\" is no e-mail address"));
        let cure = format!("for example {}", table.example("from"));
        table.report(problem.cure(cure));
    }
    is_right
}
