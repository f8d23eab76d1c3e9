//! Who asks: the token that a request shows, the visitor behind it, and the name under which what it
//! says is recorded.

use std::convert::Infallible;
use std::sync::Arc;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, header};

use super::link::Link;
use crate::access::{Token, Visitor};

/// Name of the cookie.
pub(super) const COOKIE: &str = "skimwatch_phone";
/// Longest that a browser keeps one: 400 days, the most that browsers allow.
const COOKIE_S: u32 = 400 * 24 * 3600;

/// The token that a request shows, and how.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Shown<'a> {
    Nothing,
    /// As a page of ours does; a page of another site could make a browser show it, too.
    Cookie(&'a str),
    /// As a program does.
    Bearer(&'a str),
}

impl<'a> Shown<'a> {
    pub fn by(headers: &'a HeaderMap) -> Self {
        let bearer = headers
            .get(header::AUTHORIZATION)
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.split_once(' '))
            .filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"));
        if let Some((_, token)) = bearer {
            return Self::Bearer(token.trim());
        }
        let cookies = headers.get_all(header::COOKIE).iter();
        cookies
            .filter_map(|value| value.to_str().ok())
            .flat_map(|value| value.split(';'))
            .filter_map(|cookie| cookie.trim().split_once('='))
            .find(|(name, _)| *name == COOKIE)
            .map_or(Self::Nothing, |(_, token)| Self::Cookie(token))
    }

    pub fn token(self) -> Option<&'a str> {
        match self {
            Self::Nothing => None,
            Self::Cookie(token) | Self::Bearer(token) => Some(token),
        }
    }
}

/// The cookie that keeps a token in a browser: out of reach of scripts, and not shown when a page of
/// another site asks.
pub(super) fn cookie(token: &str, link: Link) -> String {
    let secure = match link {
        Link::Encrypted => "; Secure",
        Link::Plain | Link::Unencrypted => "",
    };
    format!("{COOKIE}={token}; Path=/; Max-Age={COOKIE_S}; HttpOnly; SameSite=Strict{secure}")
}

/// The same for a new token.
pub(super) fn cookie_of(token: &Token, link: Link) -> String {
    cookie(token.secret(), link)
}

/// Who asks, for handlers; the gate puts it there.
#[derive(Debug, Clone)]
pub(super) struct Asker(pub Visitor);

impl<S: Sync> FromRequestParts<S> for Asker {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        let known = parts.extensions.get::<Self>().cloned();
        Ok(known.unwrap_or_else(|| Self(Visitor::nobody())))
    }
}

tokio::task_local! {
    static BY: Option<Arc<str>>;
}

/// Does some work in the name of somebody.
pub(super) async fn in_name_of<T>(name: Option<Arc<str>>, work: impl Future<Output = T>) -> T {
    BY.scope(name, work).await
}

/// In whose name the request is that is being answered; `None` where nothing is locked.
pub(super) fn by() -> Option<Arc<str>> {
    BY.try_with(Clone::clone).ok().flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_read_from_either_header_and_only_from_its_own_cookie() {
        let shown = |name: &'static str, value: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(name, value.parse().unwrap());
            Shown::by(&headers).token().map(str::to_owned)
        };
        for (name, value, token) in [
            ("authorization", "Bearer abc", Some("abc")),
            ("authorization", "bearer  abc ", Some("abc")),
            ("authorization", "Basic abc", None),
            ("authorization", "abc", None),
            ("cookie", "skimwatch_phone=abc", Some("abc")),
            ("cookie", "a=b; skimwatch_phone=abc; c=d", Some("abc")),
            ("cookie", "xskimwatch_phone=abc", None),
            ("cookie", "skimwatch_phone", None),
            ("x-other", "abc", None),
        ] {
            assert_eq!(shown(name, value).as_deref(), token, "{name}: {value}");
        }
    }

    #[test]
    fn the_cookie_is_out_of_reach_of_scripts_and_other_sites() {
        let token = Token::random().unwrap();
        let set = cookie_of(&token, Link::Plain);
        assert!(set.starts_with(&format!("skimwatch_phone={};", token.secret())));
        for part in ["; HttpOnly", "; SameSite=Strict", "; Path=/", "; Max-Age="] {
            assert!(set.contains(part), "{set}");
        }
        assert!(!set.contains("Secure"));
        assert!(cookie_of(&token, Link::Encrypted).ends_with("; Secure"));
    }
}
