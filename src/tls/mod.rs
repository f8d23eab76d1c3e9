//! TLS: with which certificate the pages are encrypted.
//!
//! In: `tls` of `[serve]`, PEM files of the boat's own or the file of the local authority, the names
//! and addresses of this computer. Out: the configuration for the next connection, which follows the
//! files; what a phone needs to trust it. It knows no HTTP.
//!
//! # Decisions
//!
//! - **A local authority** (`tls = "local"`) is made once, with rcgen, and signs the certificate of the
//!   pages. A phone trusts the authority, so that the certificate can be renewed (60 days before its
//!   end, or when a name or address comes to it) without a hand on any phone.
//! - **What the authority may sign** is written into its certificate (name constraints, RFC 5280,
//!   4.2.1.10): `.local` and the other names that no site on the internet can have, the names of the
//!   settings that have a dot, and private addresses. Whoever steals its key cannot pass for a bank on the crew's
//!   phones.
//! - **Clocks.** A boat computer may not know the year. The authority is good from 2020 to 2049
//!   whatever the clock says, and the certificate is renewed when the clock jumps out of its days.
//! - **One private file** holds the authority's key and the certificate with its key, replaced whole,
//!   for the owner alone. The authority's certificate lies beside it for everybody.
//! - **Own files** are read again when they change. Files that do not fit leave the certificate before
//!   in use, and the log says so.
//! - **ring**, not aws-lc: it cross-compiles with a C compiler alone.

mod authority;
mod certificate;
mod encryption;
mod error;
mod names;
mod own_files;
mod pem;

pub use authority::{AuthorityCertificate, authority_file};
pub use certificate::PageCertificate;
pub use encryption::{Encrypted, Encryption};
pub use error::TlsError;
pub use names::Names;
