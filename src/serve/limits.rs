//! Middleware of all requests: checks of `Host` and `Origin` against pages of other sites, a deadline
//! for the body, the rate limit of posts, permits and a deadline for ordinary routes, security
//! headers, and the counting of answers.

use std::net::{Ipv4Addr, Ipv6Addr};
use std::sync::{Arc, PoisonError};
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::{FromRequest, MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, Version, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::body;
use super::link::Link;
use super::phones::CERTIFICATE;
use super::problem::Problem;
use super::room::Room;
use super::seats::Client;
use crate::settings::ServeSettings;

/// Longest time that a body may take to arrive.
const BODY_DEADLINE: Duration = Duration::from_secs(3);

/// Longest time from the arrival of an ordinary request to its answer.
const DEADLINE: Duration = Duration::from_secs(3);

/// Only our own files may run or style a page, and pages may connect only to us.
const CONTENT_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self'; connect-src 'self'; manifest-src 'self'; base-uri 'none'; \
    form-action 'none'; frame-ancestors 'none'";

/// No page of ours, and nothing in one, may use what of the phone we never need. Keeping the screen on
/// and sound are ours.
const PERMISSIONS: &str = "accelerometer=(), camera=(), display-capture=(), geolocation=(), \
    gyroscope=(), magnetometer=(), microphone=(), midi=(), payment=(), usb=(), \
    autoplay=(self), screen-wake-lock=(self)";

/// Reads the whole body first, so that a slow one occupies nothing but its connection.
pub(super) async fn whole_body(request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    if body.is_end_stream() {
        return next.run(Request::from_parts(parts, body)).await;
    }
    let reading = Bytes::from_request(Request::from_parts(parts.clone(), body), &());
    let problem = match tokio::time::timeout(BODY_DEADLINE, reading).await {
        Ok(Ok(bytes)) => {
            let request = Request::from_parts(parts, Body::from(bytes));
            return next.run(request).await;
        }
        Ok(Err(rejection)) => body::unreadable(rejection.status(), rejection.body_text()),
        Err(_) => body::unreadable(
            StatusCode::REQUEST_TIMEOUT,
            "the body did not come within 3 s",
        ),
    };
    problem.into_response()
}

/// Refuses posts beyond the rate limit.
pub(super) async fn pace(
    State(room): State<Arc<Room>>,
    client: Client,
    request: Request,
    next: Next,
) -> Response {
    if !only_reads(&request) {
        let mut taps = room.taps.lock().unwrap_or_else(PoisonError::into_inner);
        let taken = taps.take(client, room.opened.elapsed());
        drop(taps);
        if let Err(too_fast) = taken {
            room.counters.too_fast(too_fast.whose);
            return Problem::too_fast(too_fast).into_response();
        }
    }
    next.run(request).await
}

fn only_reads(request: &Request) -> bool {
    matches!(*request.method(), Method::GET | Method::HEAD)
}

/// Gives an ordinary request a permit and a deadline.
pub(super) async fn permit(
    State(room): State<Arc<Room>>,
    client: Client,
    request: Request,
    next: Next,
) -> Response {
    let work = async {
        let _permit = room.permits.take(client).await;
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

/// Keeps a page of another site from posting or reading through the crew's browser. The owner of
/// another name can let it resolve to this computer (DNS rebinding), and the browser then takes us
/// for that site: so only names that nobody else can own are answered.
pub(super) async fn own_pages_only(
    State(room): State<Arc<Room>>,
    link: Link,
    request: Request,
    next: Next,
) -> Response {
    let hosts: Vec<_> = request.headers().get_all(header::HOST).iter().collect();
    match *hosts.as_slice() {
        [host] => {
            let host = host.to_str().unwrap_or("?");
            if !is_ours(host, &room.settings) {
                return Problem::unknown_host(host).into_response();
            }
        }
        [] if request.version() < Version::HTTP_11 => {}
        _ => return Problem::not_one_host(hosts.len()).into_response(),
    }
    if !only_reads(&request)
        && let Some(page) = foreign_page(request.headers(), link)
    {
        return Problem::foreign_page(&page).into_response();
    }
    next.run(request).await
}

/// Refuses a stream to a page of another site: it could not read the stream, but would hold a seat as
/// long as the phone shows that page. Other answers end at once.
pub(super) async fn own_streams_only(link: Link, request: Request, next: Next) -> Response {
    match foreign_page(request.headers(), link) {
        Some(page) => Problem::foreign_page(&page).into_response(),
        None => next.run(request).await,
    }
}

/// Leads whoever asks in plain HTTP to https, where that is spoken. What was posted in plain is refused:
/// it may have been read on its way.
pub(super) async fn lead_to_encryption(link: Link, request: Request, next: Next) -> Response {
    if link != Link::Unencrypted || request.uri().path() == CERTIFICATE {
        return next.run(request).await;
    }
    let host = request.headers().get(header::HOST);
    let (true, Some(host)) = (only_reads(&request), host) else {
        return Problem::not_encrypted().into_response();
    };
    let path = request.uri().path_and_query();
    let place = format!(
        "https://{}{}",
        host.to_str().unwrap_or_default(),
        path.map_or("/", |path| path.as_str())
    );
    match HeaderValue::from_str(&place) {
        // For a while only: TLS may be turned off again.
        Ok(place) => (StatusCode::TEMPORARY_REDIRECT, [(header::LOCATION, place)]).into_response(),
        Err(_) => Problem::not_encrypted().into_response(),
    }
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

/// Where another device already has our mDNS name, ours has a number appended.
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

/// The page behind a request, when it is not one of the host asked. Ours have the scheme of the
/// connection, so one of the same name over another is not ours. Browsers say `Sec-Fetch-Site` only to
/// hosts that they trust (localhost is one), and a picture or script that a page names has no
/// `Origin`, but mostly a `Referer`.
fn foreign_page(headers: &HeaderMap, link: Link) -> Option<String> {
    fn text(value: &HeaderValue) -> &str {
        value.to_str().unwrap_or("?")
    }
    let host = headers.get(header::HOST).map_or("", text);
    let own = format!("{}://{host}", link.scheme());
    let origins = headers.get_all(header::ORIGIN).iter().map(text);
    let referers = headers.get_all(header::REFERER).iter().map(text);
    if let Some(page) = origins
        .chain(referers.map(origin_of))
        .find(|origin| *origin != own)
    {
        return Some(page.to_owned());
    }
    headers
        .get_all("sec-fetch-site")
        .iter()
        .any(|site| !matches!(text(site), "same-origin" | "none"))
        .then(|| "another site".to_owned())
}

/// Scheme, host and port of an address.
fn origin_of(url: &str) -> &str {
    url.match_indices('/')
        .nth(2)
        .map_or(url, |(end, _)| &url[..end])
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
        // For browsers that do not know `frame-ancestors`.
        (header::X_FRAME_OPTIONS, "DENY"),
        (HeaderName::from_static("permissions-policy"), PERMISSIONS),
        // No page of another site may show a picture or run a script of ours.
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
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

    #[tokio::test]
    async fn plain_http_is_led_to_encryption_and_nothing_is_taken_from_it() {
        use tower::ServiceExt as _;

        let ask = async |link: Link, method: &str, path: &str| {
            let paths = ["/helm", CERTIFICATE].into_iter();
            let router = paths.fold(axum::Router::new(), |router, path| {
                router.route(path, axum::routing::any(|| async {}))
            });
            let mut request = Request::new(Body::empty());
            *request.method_mut() = method.parse().unwrap();
            *request.uri_mut() = path.parse().unwrap();
            *request.headers_mut() = headers(None, "boat:8477");
            request.extensions_mut().insert(link);
            let answer = router.layer(axum::middleware::from_fn(lead_to_encryption));
            let answer = answer.oneshot(request).await.unwrap();
            let place = answer.headers().get(header::LOCATION);
            let place = place.map(|place| place.to_str().unwrap().to_owned());
            (answer.status().as_u16(), place)
        };
        let led = Some("https://boat:8477/helm?a=b".to_owned());
        assert_eq!(ask(Link::Unencrypted, "GET", "/helm?a=b").await, (307, led));
        assert_eq!(ask(Link::Unencrypted, "POST", "/helm").await, (403, None));
        assert_eq!(
            ask(Link::Unencrypted, "GET", CERTIFICATE).await,
            (200, None)
        );
        for link in [Link::Plain, Link::Encrypted] {
            assert_eq!(ask(link, "POST", "/helm").await, (200, None), "{link:?}");
        }
    }

    #[test]
    fn only_a_page_of_another_host_is_foreign() {
        let plain = |headers: &HeaderMap| foreign_page(headers, Link::Plain);
        assert_eq!(plain(&headers(None, "boat:8477")), None);
        let http = headers(Some("http://boat:8477"), "boat:8477");
        let https = headers(Some("https://boat:8477"), "boat:8477");
        assert_eq!(plain(&http), None);
        assert_eq!(foreign_page(&https, Link::Encrypted), None);
        assert!(foreign_page(&http, Link::Encrypted).is_some());
        for origin in [
            "http://boat",
            "http://boat:8478",
            "https://boat:8477",
            "https://evil.example",
            "null",
        ] {
            assert_eq!(
                plain(&headers(Some(origin), "boat:8477")).as_deref(),
                Some(origin)
            );
        }
        let mut two = headers(Some("http://boat:8477"), "boat:8477");
        two.append(header::ORIGIN, "http://evil.example".parse().unwrap());
        assert!(plain(&two).is_some());
    }

    #[test]
    fn a_page_that_gives_no_origin_shows_otherwise() {
        let with = |name: &'static str, value: &str| {
            let mut headers = headers(None, "boat:8477");
            headers.insert(name, value.parse().unwrap());
            foreign_page(&headers, Link::Plain)
        };
        for (name, value) in [
            ("referer", "http://boat:8477/helm"),
            ("sec-fetch-site", "same-origin"),
            ("sec-fetch-site", "none"),
        ] {
            assert_eq!(with(name, value), None, "{name}: {value}");
        }
        for (name, value, page) in [
            ("referer", "http://evil.example/a/b", "http://evil.example"),
            (
                "referer",
                "http://boat:8477.evil.example/",
                "http://boat:8477.evil.example",
            ),
            ("sec-fetch-site", "cross-site", "another site"),
            ("sec-fetch-site", "same-site", "another site"),
        ] {
            assert_eq!(with(name, value).as_deref(), Some(page), "{name}: {value}");
        }
    }
}
