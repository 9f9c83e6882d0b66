//! A notice as an e-mail (RFC 5322) over SMTP (RFC 5321): plain text, with a number that shows a repetition.

use super::{ATTEMPT, Trouble};
use crate::engine::notice::Notice;
use crate::outlet::secret;
use crate::site::settings::{MailSecurity, MailSettings};
use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, Message};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Tls, TlsParameters};
use lettre::{AsyncSmtpTransport, AsyncTransport, Tokio1Executor};
use std::time::{Duration, SystemTime};

pub(super) async fn send(
    mail: &MailSettings,
    to: &str,
    site_folded: &str,
    notice: &Notice,
) -> Result<(), Trouble> {
    let message = message(mail, to, site_folded, notice).map_err(final_trouble)?;
    let tls = || TlsParameters::new(mail.host.clone()).map_err(Trouble::passing);
    let security = match mail.security {
        MailSecurity::Tls => Tls::Wrapper(tls()?),
        MailSecurity::StartTls => Tls::Required(tls()?),
        MailSecurity::Unencrypted => Tls::None,
    };
    let mut server = AsyncSmtpTransport::<Tokio1Executor>::builder_dangerous(mail.host.as_str())
        .port(mail.port)
        .tls(security)
        .timeout(Some(ATTEMPT));
    if let Some(user) = &mail.user {
        let password = match &mail.password {
            Some(password) => secret::read(password).await.map_err(Trouble::passing)?,
            None => String::new(),
        };
        server = server.credentials(Credentials::new(user.clone(), password));
    }
    let sent = server.build().send(message).await;
    sent.map(drop).map_err(|error| Trouble {
        // 5yz (RFC 5321, 4.2.1): the same again would be refused again.
        is_final: error.is_permanent(),
        text: with_causes(&error),
    })
}

fn message(
    mail: &MailSettings,
    to: &str,
    site_folded: &str,
    notice: &Notice,
) -> Result<Message, String> {
    let mailbox = |text: &str| text.parse::<Mailbox>().map_err(|error| error.to_string());
    let from = mailbox(&mail.from)?;
    let domain = from.email.domain();
    let id = format!("<notice-{}.{site_folded}@{domain}>", notice.id.0);
    let subject: String = notice
        .subject
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let since_epoch = Duration::try_from(notice.time.as_duration()).unwrap_or_default();
    let builder = Message::builder()
        .from(from)
        .to(mailbox(to)?)
        .subject(subject)
        .date(SystemTime::UNIX_EPOCH + since_epoch)
        .message_id(Some(id))
        .header(ContentType::TEXT_PLAIN);
    let mut message = builder
        .body(notice.text.clone())
        .map_err(|error| error.to_string())?;
    // Nobody's absence note is to answer it (RFC 3834, 5).
    message.headers_mut().insert_raw(HeaderValue::new(
        HeaderName::new_from_ascii_str("Auto-Submitted"),
        "auto-generated".to_owned(),
    ));
    Ok(message)
}

fn final_trouble(text: String) -> Trouble {
    Trouble {
        text,
        is_final: true,
    }
}

/// An error with what brought it about, each once.
fn with_causes(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        let more = error.to_string();
        if !text.contains(&more) {
            text = format!("{text}: {more}");
        }
        cause = error.source();
    }
    text
}
