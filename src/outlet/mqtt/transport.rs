//! How a connection is made: options, password, TLS.
//!
//! Certificates are checked against the system's store; `SSL_CERT_FILE` or `SSL_CERT_DIR` in the
//! environment name another one, for a site with an authority of its own.

use super::topics::Topics;
use crate::site::settings::{BrokerSettings, Secret};
use rumqttc::{LastWill, MqttOptions, QoS, TlsConfiguration, Transport};
use rustls::{ClientConfig, RootCertStore, crypto::ring};
use std::io;
use std::sync::Arc;
use std::time::Duration;

/// No packet is larger, either way. An alarm's record makes a few kB at most.
pub(super) const LARGEST_PACKET: usize = 256 * 1024;

/// What a publish needs beside topic and payload (MQTT 3.1.1, 2.2 and 3.3): fixed header at most 5 bytes,
/// topic length 2, packet identifier 2.
pub(super) const PACKET_OVERHEAD: usize = 9;

/// A dead link shows after twice this time.
const KEEP_ALIVE: Duration = Duration::from_secs(10);

/// Why no connection can even be tried.
#[derive(Debug, thiserror::Error)]
pub(super) enum Trouble {
    #[error("the password file {file} cannot be read: {cause}")]
    PasswordFile { file: String, cause: io::Error },
    #[error("the password is due in the environment as {name}, which is not set or not text")]
    PasswordVariable { name: String },
    #[error("the system has no certificates to check the broker by{detail}")]
    NoCertificates { detail: String },
    #[error("TLS: {0}")]
    Tls(#[from] rustls::Error),
}

/// `in_flight`: more than is ever handed over, so packet identifiers never collide.
pub(super) async fn options(
    settings: &BrokerSettings,
    topics: &Topics,
    in_flight: u16,
) -> Result<MqttOptions, Trouble> {
    let mut options = MqttOptions::new(topics.client(), host(settings), settings.port);
    options
        .set_keep_alive(KEEP_ALIVE)
        .set_clean_session(true)
        .set_max_packet_size(LARGEST_PACKET, LARGEST_PACKET)
        .set_inflight(in_flight)
        .set_last_will(LastWill::new(
            topics.status(),
            "offline",
            QoS::AtLeastOnce,
            true,
        ));
    if let Some(user) = &settings.user {
        options.set_credentials(user, password(settings.password.as_ref()).await?);
    }
    if settings.tls {
        let config = TlsConfiguration::Rustls(Arc::new(tls()?));
        options.set_transport(Transport::tls_with_config(config));
    }
    Ok(options)
}

/// The client joins host and port by a colon, so a bare IPv6 address needs its brackets.
fn host(settings: &BrokerSettings) -> String {
    match settings.host.parse::<std::net::Ipv6Addr>() {
        Ok(address) => format!("[{address}]"),
        Err(_) => settings.host.clone(),
    }
}

/// Read anew for each connection, so a changed password needs no restart.
async fn password(secret: Option<&Secret>) -> Result<String, Trouble> {
    match secret {
        None => Ok(String::new()),
        Some(Secret::File(file)) => match tokio::fs::read_to_string(file).await {
            Ok(text) => Ok(text.trim_end_matches(['\r', '\n']).to_owned()),
            Err(cause) => Err(Trouble::PasswordFile {
                file: file.display().to_string(),
                cause,
            }),
        },
        Some(Secret::Environment(name)) => {
            std::env::var(name).map_err(|_| Trouble::PasswordVariable { name: name.clone() })
        }
    }
}

fn tls() -> Result<ClientConfig, Trouble> {
    let found = rustls_native_certs::load_native_certs();
    let mut roots = RootCertStore::empty();
    roots.add_parsable_certificates(found.certs);
    if roots.is_empty() {
        let detail = found
            .errors
            .first()
            .map(|error| format!(": {error}"))
            .unwrap_or_default();
        return Err(Trouble::NoCertificates { detail });
    }
    Ok(
        ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()?
            .with_root_certificates(roots)
            .with_no_client_auth(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_password_file_loses_its_line_end_only() {
        let directory = tempfile::tempdir().expect("a temporary directory");
        let file = directory.path().join("mqtt.password");
        std::fs::write(&file, " two words \n").expect("writable");
        let text = password(Some(&Secret::File(file))).await.expect("readable");
        assert_eq!(text, " two words ");
    }

    #[tokio::test]
    async fn a_password_that_is_not_there_is_told_by_its_place() {
        let file = password(Some(&Secret::File("/nowhere/mqtt.password".into()))).await;
        assert!(file.is_err_and(|trouble| trouble.to_string().contains("/nowhere/mqtt.password")));
        let variable = password(Some(&Secret::Environment("STANDPIPE_NOT_SET".into()))).await;
        assert!(variable.is_err_and(|trouble| trouble.to_string().contains("STANDPIPE_NOT_SET")));
    }
}
