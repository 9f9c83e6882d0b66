//! TLS of whatever is connected to.
//!
//! Certificates are checked against the system's store; `SSL_CERT_FILE` or `SSL_CERT_DIR` in the
//! environment name another one, for a site with an authority of its own.

use rustls::{ClientConfig, RootCertStore, crypto::ring};
use std::sync::Arc;

/// Why nothing can be encrypted.
#[derive(Debug, thiserror::Error)]
pub(super) enum EncryptionTrouble {
    #[error("the system has no certificates to check the other side by{detail}")]
    NoCertificates { detail: String },
    #[error("TLS: {0}")]
    Tls(#[from] rustls::Error),
}

pub(super) fn config() -> Result<ClientConfig, EncryptionTrouble> {
    let found = rustls_native_certs::load_native_certs();
    let mut roots = RootCertStore::empty();
    roots.add_parsable_certificates(found.certs);
    if roots.is_empty() {
        let detail = found
            .errors
            .first()
            .map(|error| format!(": {error}"))
            .unwrap_or_default();
        return Err(EncryptionTrouble::NoCertificates { detail });
    }
    Ok(
        ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()?
            .with_root_certificates(roots)
            .with_no_client_auth(),
    )
}
