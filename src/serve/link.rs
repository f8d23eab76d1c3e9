//! How a connection speaks: plain, or encrypted where there is a certificate. One port does for
//! both: the first byte tells a TLS handshake from an HTTP request.

use std::convert::Infallible;
use std::io;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use tokio_util::either::Either;

use super::guarded_stream::GuardedStream;
use crate::tls::{Encrypted, Encryption};

/// The first byte of a TLS record that holds a handshake (RFC 8446, 5.1).
const HANDSHAKE: u8 = 22;

/// How a request came.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) enum Link {
    /// In plain HTTP, which is all there is, or from this computer itself.
    #[default]
    Plain,
    /// In plain HTTP from another computer, where it should be encrypted.
    Unencrypted,
    /// Over TLS.
    Encrypted,
}

impl Link {
    /// The scheme of a page that came so.
    pub fn scheme(self) -> &'static str {
        match self {
            Self::Plain | Self::Unencrypted => "http",
            Self::Encrypted => "https",
        }
    }
}

impl<S: Sync> FromRequestParts<S> for Link {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        Ok(parts.extensions.get().copied().unwrap_or_default())
    }
}

/// A connection, ready for HTTP.
pub(super) type Opened = Either<GuardedStream, Encrypted<GuardedStream>>;

/// Finds out how the other end speaks, and shakes hands with it.
///
/// # Errors
/// When it leaves, or agrees to nothing.
pub(super) async fn open(
    encryption: Option<&Encryption>,
    stream: GuardedStream,
) -> io::Result<(Opened, Link)> {
    let Some(encryption) = encryption else {
        return Ok((Either::Left(stream), Link::Plain));
    };
    if stream.first_byte().await? == Some(HANDSHAKE) {
        let stream = encryption.accept(stream).await?;
        return Ok((Either::Right(stream), Link::Encrypted));
    }
    // What does not leave the computer needs no encryption.
    let link = if stream.is_from_here() {
        Link::Plain
    } else {
        Link::Unencrypted
    };
    Ok((Either::Left(stream), link))
}
