//! What the next connection is encrypted with, and how that follows the files.

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use time::OffsetDateTime;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::watch;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::server::TlsStream;
use tokio_util::sync::CancellationToken;

use super::authority::{Authority, AuthorityCertificate};
use super::error::TlsError;
use super::names::Names;
use super::own_files::OwnFiles;
use crate::settings::Tls;

/// How often files, names and the clock are looked at.
const LOOK_AGAIN: Duration = Duration::from_secs(5);

/// A connection that is encrypted.
pub type Encrypted<S> = TlsStream<S>;

/// With what connections are encrypted; it follows the files.
#[derive(Debug, Clone)]
pub struct Encryption {
    now: watch::Receiver<Arc<ServerConfig>>,
    /// What phones must trust; `None` with the boat's own certificate.
    pub authority: Option<Arc<AuthorityCertificate>>,
}

/// Where certificates come from.
#[derive(Debug)]
enum Source {
    Own(OwnFiles),
    Local(Box<Authority>),
}

impl Source {
    /// What is to be used from now on, if that is another than before.
    fn config_if_new(
        &mut self,
        names: &Names,
        is_first: bool,
    ) -> Option<Result<ServerConfig, TlsError>> {
        match self {
            Self::Own(files) => files.config_if_new(),
            Self::Local(authority) => authority
                .config_for(names, OffsetDateTime::now_utc(), is_first)
                .map_err(|why| TlsError::NoCertificate { why })
                .transpose(),
        }
    }
}

impl Encryption {
    /// By the settings; `kept` is where the local authority is kept, `names` tells under which names
    /// and addresses phones ask now. `None` when nothing is to be encrypted. Gives also what keeps
    /// it up to date until shutdown.
    ///
    /// # Errors
    /// When there is no certificate to begin with.
    pub fn open<F: Fn() -> Names + Send + 'static>(
        tls: &Tls,
        kept: &Path,
        names: F,
        shutdown: CancellationToken,
    ) -> Result<Option<(Self, impl Future<Output = ()> + Send + use<F>)>, TlsError> {
        let no_authority = |why| TlsError::NoAuthority {
            file: kept.display().to_string(),
            why,
        };
        let (mut source, authority) = match tls {
            Tls::Off => return Ok(None),
            Tls::Files { certificate, key } => {
                let files = OwnFiles::new(certificate.clone(), key.clone());
                (Source::Own(files), None)
            }
            Tls::Local => {
                let authority = Authority::open(kept, &names()).map_err(no_authority)?;
                let certificate = authority.certificate().map_err(no_authority)?;
                (
                    Source::Local(Box::new(authority)),
                    Some(Arc::new(certificate)),
                )
            }
        };
        let Some(first) = source.config_if_new(&names(), true) else {
            return Ok(None);
        };
        let (to_doors, now) = watch::channel(Arc::new(first?));
        let keeping = async move {
            let pause = || tokio::time::sleep(LOOK_AGAIN);
            while shutdown.run_until_cancelled(pause()).await.is_some() {
                match source.config_if_new(&names(), false) {
                    None => {}
                    Some(Ok(config)) => {
                        tracing::info!("another certificate is in use from now on");
                        to_doors.send_replace(Arc::new(config));
                    }
                    Some(Err(why)) => {
                        tracing::warn!("{why}; until then the certificate before stays in use");
                    }
                }
            }
        };
        Ok(Some((Self { now, authority }, keeping)))
    }

    /// Shakes hands with whoever speaks TLS on this connection.
    ///
    /// # Errors
    /// When they do not agree, or the other end speaks something else.
    pub async fn accept<S: AsyncRead + AsyncWrite + Unpin>(
        &self,
        stream: S,
    ) -> io::Result<Encrypted<S>> {
        let config = Arc::clone(&self.now.borrow());
        TlsAcceptor::from(config).accept(stream).await
    }
}
