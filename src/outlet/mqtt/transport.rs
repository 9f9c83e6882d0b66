//! How a connection is made: options, password, TLS.

use super::topics::Topics;
use crate::outlet::encryption::{self, EncryptionTrouble};
use crate::outlet::secret::{self, SecretTrouble};
use crate::site::settings::BrokerSettings;
use rumqttc::{LastWill, MqttOptions, QoS, TlsConfiguration, Transport};
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
    #[error(transparent)]
    Secret(#[from] SecretTrouble),
    #[error(transparent)]
    Encryption(#[from] EncryptionTrouble),
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
        options.set_credentials(user, password(settings).await?);
    }
    if settings.tls {
        let config = TlsConfiguration::Rustls(Arc::new(encryption::config()?));
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

async fn password(settings: &BrokerSettings) -> Result<String, SecretTrouble> {
    match &settings.password {
        None => Ok(String::new()),
        Some(password) => secret::read(password).await,
    }
}
