//! What every request passes: permits and a deadline for ordinary routes, the checks against
//! pages of other hosts and against names that only seem to be ours, the security headers, the
//! counting.

use std::net::{Ipv4Addr, Ipv6Addr};
use std::sync::Arc;
use std::time::Duration;

use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::problem::Problem;
use super::room::Room;
use super::settings::ServeSettings;

/// Longest body that is read.
pub(super) const BODY_MAX_BYTES: usize = 16 * 1024;

/// Longest time an ordinary request may wait and work.
const DEADLINE: Duration = Duration::from_secs(3);

/// Nothing but our own files may run, style, or be asked.
const CONTENT_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self'; connect-src 'self'; manifest-src 'self'; base-uri 'none'; \
    form-action 'none'; frame-ancestors 'none'";

/// Gives an ordinary request a permit and a deadline.
pub(super) async fn permit(
    State(room): State<Arc<Room>>,
    request: Request,
    next: Next,
) -> Response {
    let work = async {
        // The semaphore is never closed; were it, the request would only go unlimited.
        let _permit = room.permits.acquire().await.ok();
        next.run(request).await
    };
    match tokio::time::timeout(DEADLINE, work).await {
        Ok(response) => response,
        Err(_) => {
            room.counters.turned_away();
            Problem::busy("the request was not answered within 3 s").into_response()
        }
    }
}

/// Refuses to let a page of another host press our buttons, or read what we say, through the
/// crew's browser. Its own name may lead to us (its owner decides what its name resolves to), and
/// then the browser takes us for it: so only names that cannot be somebody else's are answered.
pub(super) async fn own_pages_only(
    State(room): State<Arc<Room>>,
    request: Request,
    next: Next,
) -> Response {
    for host in request.headers().get_all(header::HOST) {
        let host = host.to_str().unwrap_or("?");
        if !is_ours(host, &room.settings) {
            return Problem::unknown_host(host).into_response();
        }
    }
    if !matches!(*request.method(), Method::GET | Method::HEAD)
        && let Some(origin) = foreign_origin(request.headers())
    {
        return Problem::foreign_page(&origin).into_response();
    }
    next.run(request).await
}

/// Whether a `Host` is an address, this computer itself, our name on the boat's network, or a name
/// that the settings allow.
fn is_ours(host: &str, settings: &ServeSettings) -> bool {
    if let Some(address) = host.strip_prefix('[') {
        return address
            .split_once(']')
            .is_some_and(|(address, _)| address.parse::<Ipv6Addr>().is_ok());
    }
    let name = host.split_once(':').map_or(host, |(name, _)| name);
    let name = name.strip_suffix('.').unwrap_or(name).to_ascii_lowercase();
    name.parse::<Ipv4Addr>().is_ok()
        || name == "localhost"
        || is_mdns_name(&name, &settings.mdns_name.to_ascii_lowercase())
        || settings
            .names
            .iter()
            .any(|allowed| allowed.eq_ignore_ascii_case(&name))
}

/// Where another device already has our name, we answer to the same with a number behind it.
fn is_mdns_name(name: &str, own: &str) -> bool {
    fn stem(label: &str) -> &str {
        match label.rsplit_once('-') {
            Some((stem, number)) if number.parse::<u32>().is_ok() => stem,
            _ => label,
        }
    }
    let label = name.strip_suffix(".local").unwrap_or_default();
    !own.is_empty() && (label == own || stem(label) == own || stem(label) == stem(own))
}

/// The origin of the page behind a request, when it is not the host asked.
fn foreign_origin(headers: &HeaderMap) -> Option<String> {
    let text = |name| {
        headers
            .get(name)
            .map(|v: &HeaderValue| v.to_str().unwrap_or("?"))
    };
    let origin = text(header::ORIGIN)?;
    let own = text(header::HOST).unwrap_or_default();
    let host = origin.split_once("://").map_or(origin, |(_, host)| host);
    (host != own).then(|| origin.to_owned())
}

/// Counts the answer and adds the security headers.
pub(super) async fn count_and_harden(
    State(room): State<Arc<Room>>,
    request: Request,
    next: Next,
) -> Response {
    let route = request
        .extensions()
        .get::<MatchedPath>()
        .map_or_else(|| "none".to_owned(), |path| path.as_str().to_owned());
    let mut response = next.run(request).await;
    room.counters.answered(&route, response.status().as_u16());
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, CONTENT_POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(origin: Option<&str>, host: &str) -> HeaderMap {
        let mut headers = HeaderMap::new();
        headers.insert(header::HOST, host.parse().unwrap());
        if let Some(origin) = origin {
            headers.insert(header::ORIGIN, origin.parse().unwrap());
        }
        headers
    }

    #[test]
    fn only_names_that_nobody_else_can_have_are_ours() {
        let settings = ServeSettings {
            mdns_name: "skiff-2".to_owned(),
            names: vec!["chart-table".to_owned()],
            ..ServeSettings::default()
        };
        for host in [
            "127.0.0.1:8477",
            "192.0.2.7",
            "[::1]:8477",
            "[2001:db8::1]",
            "localhost:8477",
            "LOCALHOST.",
            "skiff-2.local:8477",
            "Skiff-3.local",
            "chart-table:8477",
        ] {
            assert!(is_ours(host, &settings), "{host}");
        }
        for host in [
            "",
            "evil.example",
            "evil.example:8477",
            "127.0.0.1.evil.example",
            "localhost.evil.example",
            "[evil.example]:8477",
            "[::1",
            "other.local",
            "skiff-2",
            "skiff-2.local.evil.example",
        ] {
            assert!(!is_ours(host, &settings), "{host}");
        }
        let nameless = ServeSettings {
            mdns_name: String::new(),
            ..ServeSettings::default()
        };
        assert!(!is_ours(".local", &nameless));
    }

    #[test]
    fn only_a_page_of_another_host_is_foreign() {
        assert_eq!(foreign_origin(&headers(None, "boat:8477")), None);
        assert_eq!(
            foreign_origin(&headers(Some("http://boat:8477"), "boat:8477")),
            None
        );
        for origin in [
            "http://boat",
            "http://boat:8478",
            "https://evil.example",
            "null",
        ] {
            assert_eq!(
                foreign_origin(&headers(Some(origin), "boat:8477")).as_deref(),
                Some(origin)
            );
        }
    }
}
