//! Somebody who asks for something, and what is allowed.

use std::sync::Arc;

use tokio_util::sync::CancellationToken;

use super::rank::{Need, Role};

/// Somebody who asks for something.
#[derive(Debug, Clone)]
pub struct Visitor {
    /// What is allowed at most.
    pub may: Need,
    /// Its number, where it is a phone that has joined.
    pub number: Option<u32>,
    /// Its name: a phone's, or "console".
    pub name: Option<Arc<str>>,
    /// What it has joined as.
    pub role: Option<Role>,
    /// Whether it shows a token that nobody has: it was taken out.
    pub was_taken_out: bool,
    pub(super) out: Option<CancellationToken>,
}

impl Visitor {
    /// Somebody who may nothing.
    #[must_use]
    pub fn nobody() -> Self {
        Self::stranger(Need::Nothing, false)
    }

    pub(super) fn stranger(may: Need, was_taken_out: bool) -> Self {
        Self {
            may,
            number: None,
            name: None,
            role: None,
            was_taken_out,
            out: None,
        }
    }

    /// Ends when the phone is taken out.
    pub fn taken_out(&self) -> impl Future<Output = ()> + Send + use<> {
        let out = self.out.clone();
        async move {
            match out {
                Some(out) => out.cancelled().await,
                None => std::future::pending().await,
            }
        }
    }
}
