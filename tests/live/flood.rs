//! What phones and metrics are sent after a flood of invented names.

use axum::body::{Body, to_bytes};
use axum::http::Request;
use skimwatch::engine::{Engine, EngineSettings, Event, Mode};
use skimwatch::serve;
use skimwatch::time::Millis;
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

use crate::invented;

/// Names poured in.
const MANY: u32 = 60_000;

#[tokio::test]
async fn state_and_metrics_stay_small_whatever_names_come() {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let settings = skimwatch::settings::parse(&text, "config/demo.toml").unwrap();
    let settings = EngineSettings {
        feeds: vec!["network".to_owned()],
        ..settings.engine().unwrap()
    };
    let mut engine = Engine::new(settings, Mode::Replay);
    let mut at = Millis(1_795_600_000_000);
    let mut say = |feed: &str, text: &str| {
        at = at.plus_seconds(0.001);
        engine.take(Event::Line { at, feed, text });
    };
    for number in 0..MANY {
        // Another address, feed and waypoint each time, and now and then every kind that is read.
        let feed = format!("feed-{number}-{}", "x".repeat(900));
        say("network", &format!("$PX{number},1"));
        say(&feed, &format!("$PX{number},1"));
        say("network", &format!("$GPWPL,4500.0,N,01200.0,E,W{number}"));
        say(&format!("feed-{}", number % 200), "$HEHDT,x");
        for kind in [
            "APB", "GGA", "HDG", "MWV", "RMB", "RMC", "ROT", "VHW", "ZDA",
        ] {
            if number < 400 {
                let feed = format!("feed-{}", number % 200);
                say(&feed, &format!("$II{kind},x"));
            }
        }
    }
    let snapshot = engine.take(Event::Tick { at }).unwrap().snapshot;
    let boat = invented::boat(snapshot);
    for (path, most_bytes) in [("/v1/state", 64 * 1024), ("/metrics", 128 * 1024)] {
        let app = serve::app(
            invented::settings(),
            boat.sources.clone(),
            CancellationToken::new(),
        );
        let request = Request::get(path)
            .header("host", "127.0.0.1")
            .body(Body::empty())
            .unwrap();
        let response = app.oneshot(request).await.unwrap();
        assert!(response.status().is_success(), "{path}");
        let body = to_bytes(response.into_body(), 64 << 20).await.unwrap();
        println!("{path}: {} bytes", body.len());
        assert!(body.len() < most_bytes, "{path}: {} bytes", body.len());
    }
}
