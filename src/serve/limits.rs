//! What every request passes: permits and a deadline for ordinary routes, the check against
//! pages of other hosts, the security headers, the counting.

use std::sync::Arc;
use std::time::Duration;

use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::problem::Problem;
use super::room::Room;

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

/// Refuses to let a page of another host press our buttons through the crew's browser.
pub(super) async fn own_pages_only(request: Request, next: Next) -> Response {
    if !matches!(*request.method(), Method::GET | Method::HEAD)
        && let Some(origin) = foreign_origin(request.headers())
    {
        return Problem::foreign_page(&origin).into_response();
    }
    next.run(request).await
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
