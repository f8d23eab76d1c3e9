//! Bodies of any bytes to every route that takes one, through the whole router of a program that is
//! asked for nothing else: each is answered with a status that the interface document names, a refusal
//! with a cure, and whatever the crew may say so can be written as a crew sentence and read. The first
//! byte chooses the moment, the second the route.
#![no_main]

use std::sync::{LazyLock, Mutex};
use std::time::Duration;

use axum::Router;
use libfuzzer_sys::fuzz_target;
use serde_json::Value;
use skimwatch::decode::{CrewInput, Decoder, encode_crew};
use skimwatch::serve;
use tokio::runtime::{Builder, Runtime};
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;

mod api;
#[path = "../../page/invented.rs"]
mod invented;
#[path = "../../page/invented_strike.rs"]
mod invented_strike;

/// After so long a pause the limits on the pace of posts allow anything again.
const PAUSE: Duration = Duration::from_secs(60);
const MOMENTS: [&str; 3] = ["advice", "marks", "bite"];

struct Room {
    app: Router,
    said: mpsc::UnboundedReceiver<CrewInput>,
    /// What would end if it were dropped.
    _boat: invented::Boat,
}

struct Fuzz {
    runtime: Runtime,
    rooms: Vec<Room>,
    routes: Vec<api::Route>,
}

/// A room with a stamper and a keeper of settings that say yes.
fn room(moment: &str) -> Room {
    let mut boat = invented::boat(invented::moment(moment, invented::START));
    let (sender, said) = mpsc::unbounded_channel();
    let posts = std::mem::replace(&mut boat.posts, mpsc::channel(1).1);
    tokio::spawn(invented::stamper(posts, sender));
    let mut changes = std::mem::replace(&mut boat.changes, mpsc::channel(1).1);
    let set_up = boat.sources.set_up.clone();
    tokio::spawn(async move {
        while let Some(post) = changes.recv().await {
            let _ = post.reply.send(Ok(set_up.borrow().clone()));
        }
    });
    let app = serve::app(
        invented::settings(),
        boat.sources.clone(),
        CancellationToken::new(),
    );
    Room {
        app,
        said,
        _boat: boat,
    }
}

static FUZZ: LazyLock<Mutex<Fuzz>> = LazyLock::new(|| {
    // Time stands still but for the pauses.
    let runtime = Builder::new_current_thread()
        .enable_all()
        .start_paused(true)
        .build()
        .expect("a runtime");
    let (rooms, routes) = runtime.block_on(async {
        let rooms: Vec<_> = MOMENTS.iter().map(|moment| room(moment)).collect();
        let (_, routes) = api::routes(&rooms[0].app).await;
        (rooms, routes)
    });
    Mutex::new(Fuzz {
        runtime,
        rooms,
        routes,
    })
});

fuzz_target!(|input: &[u8]| {
    let [moment, route, body @ ..] = input else {
        return;
    };
    let mut fuzz = FUZZ.lock().expect("one at a time");
    let Fuzz {
        runtime,
        rooms,
        routes,
    } = &mut *fuzz;
    let room = &mut rooms[usize::from(*moment) % MOMENTS.len()];
    let route = &routes[usize::from(*route) % routes.len()];
    let (status, text) = runtime.block_on(async {
        tokio::time::advance(PAUSE).await;
        api::ask(&room.app, api::request(&route.method, &route.path, body)).await
    });
    let what = format!("{} {}: {status} {text}", route.method, route.path);
    assert!(
        route.operation["responses"][status.to_string()].is_object(),
        "{what}"
    );
    assert_ne!(status, 500, "{what}");
    if status >= 400 {
        let problem: Value = serde_json::from_str(&text).expect("a problem document");
        assert!(
            problem["cure"]
                .as_str()
                .is_some_and(|cure| !cure.is_empty()),
            "{what}"
        );
    }
    while let Ok(input) = room.said.try_recv() {
        let sentence = encode_crew(&input, 1);
        assert!(
            Decoder::new().decode(&sentence).is_ok(),
            "{what}: {sentence}"
        );
    }
});
