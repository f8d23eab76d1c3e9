//! The gate: every request is let through only as far as whoever asks may go, by the table of routes,
//! and every change is logged with the name of whoever made it.

use std::sync::Arc;

use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::doors::Doors;
use super::problem::Problem;
use super::room::Room;
use super::seats::Client;
use super::who::{Asker, Shown, in_name_of};
use crate::access::Need;

/// Lets a request through, or says what it lacks.
pub(super) async fn only_who_may(
    State((room, doors)): State<(Arc<Room>, Arc<Doors>)>,
    client: Client,
    mut request: Request,
    next: Next,
) -> Response {
    let Some(path) = request.extensions().get::<MatchedPath>().cloned() else {
        // Nothing is there.
        return next.run(request).await;
    };
    let Some(need) = doors.need(path.as_str(), request.method()) else {
        return closed(&doors, path.as_str(), &request);
    };
    let shown = Shown::by(request.headers());
    let visitor = room.sources.access.visitor(shown.token());
    if visitor.may < need {
        return Problem::may_not(&visitor, need).into_response();
    }
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
    // A browser shows a cookie by itself, and says which page asks. Where it does not, nobody knows.
    if changes
        && visitor.number.is_some()
        && matches!(shown, Shown::Cookie(_))
        && !request.headers().contains_key(header::ORIGIN)
    {
        return Problem::foreign_page("nobody knows where").into_response();
    }
    let name = visitor.name.clone();
    request.extensions_mut().insert(Asker(visitor));
    if !changes || need == Need::Nothing {
        return next.run(request).await;
    }
    let what = format!("{} {}", request.method(), request.uri().path());
    let answer = in_name_of(name.clone(), next.run(request)).await;
    if answer.status().is_success() {
        match (name, client) {
            (Some(name), _) => tracing::info!("{name}: {what}"),
            (None, Client::At(address)) => tracing::info!("{address}: {what}"),
            (None, Client::Unknown) => tracing::info!("{what}"),
        }
    }
    answer
}

/// A way that is closed: a path that takes other methods, or one that declares nothing.
fn closed(doors: &Doors, path: &str, request: &Request) -> Response {
    let asked = request.uri().path();
    let Some(methods) = doors.methods(path) else {
        return Problem::no_such_path(asked).into_response();
    };
    let mut response = Problem::wrong_method(request.method().as_str(), asked).into_response();
    if let Ok(methods) = HeaderValue::from_str(&methods) {
        response.headers_mut().insert(header::ALLOW, methods);
    }
    response
}
