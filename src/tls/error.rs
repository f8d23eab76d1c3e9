//! Why the pages cannot be encrypted, with the cure.

use std::io;

/// Why the pages cannot be encrypted.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// A file cannot be read.
    #[error(
        "[serve] {key} = \"{file}\": it cannot be read ({why}). The daemon's user must be able to; \
         tls = \"local\" needs no such file"
    )]
    Unreadable {
        /// The key that names it.
        key: &'static str,
        /// Which.
        file: String,
        /// What the system says.
        why: io::Error,
    },
    /// A file holds something else.
    #[error(
        "[serve] {key} = \"{file}\": {why}. Both files are PEM: the certificate with those that \
         signed it after it, and the private key that belongs to it"
    )]
    Unfit {
        /// The key that names it.
        key: &'static str,
        /// Which.
        file: String,
        /// What is wrong with it.
        why: String,
    },
    /// There is no local authority.
    #[error(
        "[serve] tls = \"local\": {file}: {why}. Give the daemon's user the right to write there; or \
         move a damaged file away, then a new authority is made, which every phone must trust anew"
    )]
    NoAuthority {
        /// Where it is kept.
        file: String,
        /// What is wrong.
        why: String,
    },
    /// The file of the local authority is its owner's alone.
    #[error(
        "[serve] tls = \"local\": {file}: {why}. Run this as root (sudo), or as the user of the daemon"
    )]
    Hidden {
        /// Where it is kept.
        file: String,
        /// What the system says.
        why: io::Error,
    },
    /// No random numbers, or names that no certificate can hold.
    #[error("[serve] tls = \"local\": no certificate can be made ({why})")]
    NoCertificate {
        /// What is wrong.
        why: String,
    },
}
