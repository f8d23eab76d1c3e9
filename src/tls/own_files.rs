//! The boat's own certificate and key, each a PEM file.

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};

use tokio_rustls::rustls::ServerConfig;

use super::error::TlsError;
use super::pem;

/// A file longer than this holds no certificate.
const LARGEST_BYTES: u64 = 256 * 1024;

/// Certificate and key, and how the files were when they were last read.
#[derive(Debug)]
pub(super) struct OwnFiles {
    certificate: PathBuf,
    key: PathBuf,
    read: Option<[Stamp; 2]>,
}

/// What tells that a file is another: device, inode, length, time of change.
type Stamp = Option<(u64, u64, u64, i64, i64)>;

impl OwnFiles {
    pub fn new(certificate: PathBuf, key: PathBuf) -> Self {
        Self {
            certificate,
            key,
            read: None,
        }
    }

    /// Reads them if they have changed since they were last read, whatever came of it then.
    pub fn config_if_new(&mut self) -> Option<Result<ServerConfig, TlsError>> {
        let now = [&self.certificate, &self.key].map(|path| stamp(path));
        if self.read == Some(now) {
            return None;
        }
        self.read = Some(now);
        Some(self.config())
    }

    /// The PEM text of the certificate, if the key is that of it.
    pub fn fitting_chain(&self) -> Result<Vec<u8>, TlsError> {
        self.config()?;
        bytes(&self.certificate)
            .map_err(|why| unreadable("certificate_file", &self.certificate, why))
    }

    fn config(&self) -> Result<ServerConfig, TlsError> {
        let read = |path: &Path, key| bytes(path).map_err(|why| unreadable(key, path, why));
        let unfit = |path: &Path, key, why: String| TlsError::Unfit {
            key,
            file: path.display().to_string(),
            why,
        };
        let chain = pem::chain(&read(&self.certificate, "certificate_file")?)
            .map_err(|why| unfit(&self.certificate, "certificate_file", why))?;
        let key = pem::key(&read(&self.key, "key_file")?)
            .map_err(|why| unfit(&self.key, "key_file", why))?;
        let for_all = fs::metadata(&self.key).is_ok_and(|of| of.permissions().mode() & 0o004 != 0);
        if for_all {
            tracing::warn!(
                "everybody on this computer can read the key in {}: chmod o-r",
                self.key.display()
            );
        }
        pem::config(chain, key).map_err(|why| unfit(&self.key, "key_file", why.to_string()))
    }
}

fn unreadable(key: &'static str, path: &Path, why: io::Error) -> TlsError {
    TlsError::Unreadable {
        key,
        file: path.display().to_string(),
        why,
    }
}

fn stamp(path: &Path) -> Stamp {
    let of = fs::metadata(path).ok()?;
    Some((of.dev(), of.ino(), of.size(), of.mtime(), of.mtime_nsec()))
}

fn bytes(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?
        .take(LARGEST_BYTES)
        .read_to_end(&mut bytes)?;
    Ok(bytes)
}
