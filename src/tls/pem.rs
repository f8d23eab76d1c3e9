//! Certificates and keys as rustls takes them.

use std::sync::Arc;

use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject as _;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio_rustls::rustls::{self, ServerConfig};

/// The certificates in a PEM text, the server's first.
///
/// # Errors
/// Why there is none.
pub(super) fn chain(text: &[u8]) -> Result<Vec<CertificateDer<'static>>, String> {
    let found: Result<Vec<_>, _> = CertificateDer::pem_slice_iter(text).collect();
    let found = found.map_err(|why| why.to_string())?;
    if found.is_empty() {
        return Err("there is no certificate in it".to_owned());
    }
    Ok(found)
}

/// The private key in a PEM text.
///
/// # Errors
/// Why there is none.
pub(super) fn key(text: &[u8]) -> Result<PrivateKeyDer<'static>, String> {
    PrivateKeyDer::from_pem_slice(text).map_err(|why| match why {
        rustls::pki_types::pem::Error::NoItemsFound => {
            "there is no private key in it that can be used; an encrypted one cannot".to_owned()
        }
        other => other.to_string(),
    })
}

/// What connections are encrypted with.
///
/// # Errors
/// When certificate and key do not belong together, or are of a kind that is not known.
pub(super) fn config(
    chain: Vec<CertificateDer<'static>>,
    key: PrivateKeyDer<'static>,
) -> Result<ServerConfig, rustls::Error> {
    let provider = Arc::new(ring::default_provider());
    let mut config = ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()?
        .with_no_client_auth()
        .with_single_cert(chain, key)?;
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(config)
}
