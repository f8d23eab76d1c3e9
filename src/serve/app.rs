//! The router, and running it until the shutdown token.

use std::fmt;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::{DefaultBodyLimit, Request};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::response::IntoResponse;
use axum::{Json, Router};
use tokio::net::TcpListener;
use tokio_util::sync::CancellationToken;
use utoipa::OpenApi;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::body::BODY_MAX_BYTES;
use super::doors::Doors;
use super::guard::{self, GuardedListener};
use super::limits;
use super::problem::Problem;
use super::room::Room;
use super::sources::Sources;
use super::{
    assets, calibration, change, crew, crew_launch, days, describe, export, gate, instrument,
    marks, metrics, outlets, pass, phones, read, rig_today, streams, strike,
};
use crate::settings::ServeSettings;

/// Address and port to listen on, and where it was set, so that an error can say where to change it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bind {
    /// `[serve] bind` of a settings file.
    Settings(SocketAddr),
    /// `--bind`, or the default of a command that has this option.
    Option(SocketAddr),
}

impl Bind {
    /// The address.
    #[must_use]
    pub fn address(self) -> SocketAddr {
        match self {
            Self::Settings(address) | Self::Option(address) => address,
        }
    }

    fn key(self) -> &'static str {
        match self {
            Self::Settings(_) => "[serve] bind",
            Self::Option(_) => "--bind",
        }
    }
}

impl fmt::Display for Bind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Settings(address) => write!(f, "[serve] bind = \"{address}\""),
            Self::Option(address) => write!(f, "--bind {address}"),
        }
    }
}

/// Why the HTTP server cannot start.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The port is taken.
    #[error(
        "{bind}: the port is in use. Is skimwatch running already? Stop it, or give another port \
         with {}",
        .bind.key()
    )]
    PortInUse {
        /// The address asked for.
        bind: Bind,
    },
    /// Binding to the address failed.
    #[error(
        "{bind}: cannot listen there ({why}). Give another address with {}: 127.0.0.1 for this \
         device alone, 0.0.0.0 for the boat's Wi-Fi, or one that this device has; ports below \
         1024 need rights of their own",
        .bind.key()
    )]
    Bind {
        /// The address asked for.
        bind: Bind,
        /// What the system says.
        why: io::Error,
    },
}

/// Binds the listener.
///
/// # Errors
/// [`ServeError::PortInUse`] and [`ServeError::Bind`], naming key and cure.
pub async fn bind(bind: Bind) -> Result<TcpListener, ServeError> {
    TcpListener::bind(bind.address()).await.map_err(|why| {
        if why.kind() == io::ErrorKind::AddrInUse {
            ServeError::PortInUse { bind }
        } else {
            ServeError::Bind { bind, why }
        }
    })
}

#[derive(OpenApi)]
#[openapi(
    info(
        title = "skimwatch",
        description = "What the boat does, where the kite rig is, what the coming turn will do \
            to the bait, and what to do about it. Advice, not control. Names carry units; times \
            are RFC 3339 with milliseconds. Errors are problem details (RFC 9457) with a cure."
    ),
    tags(
        (name = "read", description = "State, advisories, forecast"),
        (name = "crew", description = "What the crew says; each is recorded as a sentence, and the \
            answer says whether that is on the disk"),
        (name = "set-up", description = "Settings that can be changed while the program runs"),
        (name = "logbook", description = "Days: what happened on them, and their figures"),
        (name = "phones", description = "Which phones may touch: joining, and for keepers letting \
            in and taking out"),
        (name = "watch over it", description = "Health and metrics"),
    )
)]
struct Api;

/// Where the interface document is.
const DOCUMENT: &str = "/v1/openapi.json";

/// Everything that is served.
pub fn app(settings: ServeSettings, sources: Sources, shutdown: CancellationToken) -> Router {
    let room = Arc::new(Room::new(settings, sources, shutdown));
    router(&room)
}

fn router(room: &Arc<Room>) -> Router {
    let (ordinary, mut ordinary_api) = OpenApiRouter::with_openapi(Api::openapi())
        .routes(routes!(read::state))
        .routes(routes!(read::advisories))
        .routes(routes!(read::forecast))
        .routes(routes!(read::health))
        .routes(routes!(calibration::calibration))
        .routes(routes!(days::days))
        .routes(routes!(days::day))
        .routes(routes!(days::sums))
        .routes(routes!(export::export))
        .routes(routes!(metrics::metrics))
        .routes(routes!(crew::lines_out))
        .routes(routes!(crew::moved))
        .routes(routes!(crew::bait))
        .routes(routes!(crew::undo))
        .routes(routes!(crew::elevation))
        .routes(routes!(crew::bearing))
        .routes(routes!(crew::marker))
        .routes(routes!(crew::turn))
        .routes(routes!(crew::call_off_turn))
        .routes(routes!(crew::plan))
        .routes(routes!(crew::bite))
        .routes(routes!(crew_launch::launch_begins))
        .routes(routes!(crew_launch::launch_step))
        .routes(routes!(crew_launch::launch_ends))
        .routes(routes!(strike::strike))
        .routes(routes!(pass::pass))
        .routes(routes!(instrument::instrument))
        .routes(routes!(marks::list))
        .routes(routes!(marks::mark))
        .routes(routes!(marks::remove))
        .routes(routes!(marks::name))
        .routes(routes!(marks::drift))
        .routes(routes!(calibration::correction))
        .routes(routes!(crew::session))
        .routes(routes!(crew::forget))
        .routes(routes!(crew::acknowledge))
        .routes(routes!(crew::silence))
        .split_for_parts();
    describe::permits(&mut ordinary_api);
    let (streams, streams_api) = OpenApiRouter::with_openapi(ordinary_api)
        .routes(routes!(streams::advisories))
        .routes(routes!(streams::state))
        .split_for_parts();
    let (settings, mut api) = OpenApiRouter::with_openapi(streams_api)
        // Their queue is their bound; a change waits for disk and engine.
        .routes(routes!(change::read, change::change))
        // One at a time, however long it takes.
        .routes(routes!(rig_today::rig))
        .routes(routes!(rig_today::launch_steps))
        // These wait for the disk.
        .routes(routes!(phones::this))
        .routes(routes!(phones::certificate))
        .routes(routes!(phones::join))
        .routes(routes!(phones::list))
        .routes(routes!(phones::invite))
        .routes(routes!(phones::take_out))
        .split_for_parts();
    let mut doors = Doors::of(&api);
    assets::paths().for_each(|path| doors.file(path));
    doors.file(DOCUMENT);
    let gate = (Arc::clone(room), Arc::new(doors));
    api.info.version = env!("CARGO_PKG_VERSION").to_owned();
    outlets::describe(&mut api);
    describe::complete(&mut api);
    let api = Arc::new(api);
    let description = axum::routing::get(move || {
        let api = Arc::clone(&api);
        async move { Json(api.as_ref()).into_response() }
    });
    ordinary
        .route(DOCUMENT, description)
        .layer(from_fn_with_state(Arc::clone(room), limits::permit))
        .merge(streams.layer(from_fn(limits::own_streams_only)))
        .merge(settings)
        .layer(from_fn_with_state(Arc::clone(room), limits::pace))
        .layer(from_fn(limits::whole_body))
        .merge(assets::routes())
        .fallback(|request: Request| async move { Problem::no_such_path(request.uri().path()) })
        .layer(from_fn_with_state(gate, gate::only_who_may))
        .layer(from_fn(limits::lead_to_encryption))
        .layer(from_fn_with_state(Arc::clone(room), limits::own_pages_only))
        .layer(from_fn_with_state(
            Arc::clone(room),
            limits::count_and_harden,
        ))
        .layer(DefaultBodyLimit::max(BODY_MAX_BYTES))
        .with_state(Arc::clone(room))
}

/// Serves until `shutdown`, which also ends every open stream.
pub async fn run(
    listener: TcpListener,
    settings: ServeSettings,
    sources: Sources,
    shutdown: CancellationToken,
) {
    let room = Arc::new(Room::new(settings, sources, shutdown.clone()));
    let listener = GuardedListener::new(
        listener,
        room.settings.connections,
        Duration::from_secs_f64(room.settings.slow_client_s),
        Arc::clone(&room.counters),
    );
    tokio::spawn(Arc::clone(&room).watch_ticks());
    tokio::spawn(room.sources.access.clone().keep_file(shutdown.clone()));
    let encryption = room.sources.encryption.clone();
    guard::serve(listener, router(&room), encryption, shutdown).await;
}
