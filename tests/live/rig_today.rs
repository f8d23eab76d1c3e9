//! Which kite and tackle suit the day: over HTTP and at the terminal.

use std::path::Path;
use std::process::Output;

use serde_json::Value;

use crate::program::skimwatch;
use crate::serving::{advice, get};

#[tokio::test]
async fn a_day_is_asked_over_http() {
    let boat = advice();
    // 14 and 19 kn, 6 kn of boat.
    let path = "/v1/rig?wind_mps=7.2&gust_mps=9.8&speed_mps=3.09&off_bow_deg=60";
    let answer = get(&boat, path).await;
    assert_eq!(answer.status, 200, "{}", answer.text);
    let rig = answer.json();
    assert_eq!(rig["best"], "flown now");
    assert_eq!(rig["day"]["wind_mps"], 7.2);
    assert_eq!(rig["origin"]["wind"], "asked");
    let kite = &rig["kites"][0];
    let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{rig:#}"));
    assert!((30.0..70.0).contains(&number(&kite["elevation_deg"])));
    let range = &kite["range"];
    assert!(number(&range["least_wind_mps"]) < 7.2);
    assert!(number(&range["greatest_wind_mps"]) > 7.2);
    for check in rig["tackle"]
        .as_array()
        .unwrap()
        .iter()
        .chain(kite["checks"].as_array().unwrap())
    {
        for source in ["value_from", "bounds_from"] {
            assert!(!check[source].as_str().unwrap().is_empty(), "{check}");
        }
    }
    // Nothing asked: what is measured, and what nobody knows is said to be assumed.
    let answer = get(&boat, "/v1/rig").await.json();
    assert_ne!(answer["origin"]["wind"], "asked");
    assert!(answer["why"].as_str().unwrap().len() > 10);
}

#[tokio::test]
async fn a_day_is_taken_within_the_documented_ranges_and_refused_beyond() {
    let boat = advice();
    let document = get(&boat, "/v1/openapi.json").await.json();
    let parameters = document["paths"]["/v1/rig"]["get"]["parameters"]
        .as_array()
        .unwrap();
    assert_eq!(parameters.len(), 5);
    for parameter in parameters {
        let name = parameter["name"].as_str().unwrap();
        assert!(!parameter["description"].as_str().unwrap().is_empty());
        assert_eq!(parameter["required"], false, "{name}");
        let bound = |which: &str| parameter["schema"][which].as_f64().unwrap();
        let (least, most) = (bound("minimum"), bound("maximum"));
        for (value, taken) in [
            (least, true),
            (most, true),
            (least - 0.01, false),
            (most + 0.01, false),
        ] {
            // A gust below the wind has an answer of its own.
            let wind = if name == "gust_mps" {
                "wind_mps=0.5&"
            } else {
                ""
            };
            let answer = get(&boat, &format!("/v1/rig?{wind}{name}={value}")).await;
            if taken {
                assert_eq!(answer.status, 200, "{name}={value}: {}", answer.text);
            } else {
                let problem = answer.problem(422, "out-of-range");
                assert_eq!(problem["field"], name);
            }
        }
    }
    let answer = get(&boat, "/v1/rig?wind_mps=9&gust_mps=8").await;
    assert_eq!(answer.problem(422, "out-of-range")["field"], "gust_mps");
    for wrong in ["wind_mps=much", "gale=9", "wind_mps=NaN"] {
        let answer = get(&boat, &format!("/v1/rig?{wrong}")).await;
        let kind = if wrong.ends_with("NaN") {
            (422, "out-of-range")
        } else {
            (400, "unreadable-query")
        };
        answer.problem(kind.0, kind.1);
    }
}

fn said(output: &Output) -> String {
    assert!(output.status.success(), "{output:?}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn a_day_is_asked_at_the_terminal_in_the_units_of_the_settings() {
    let demo = ["--settings", "config/demo.toml"];
    let day = ["--wind", "14", "--gust", "19", "--speed", "6"];
    let metric = said(&skimwatch(&[&["rig"], &demo[..], &day[..]].concat()));
    assert!(metric.contains("wind 14.0 kn, gusts 19.0 kn"), "{metric}");
    assert!(metric.contains("kite line 100 m (assumed)"), "{metric}");
    assert!(metric.contains("best: flown now"), "{metric}");

    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("boat.toml");
    let text =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("config/demo.toml"));
    let more = "\n[crew]\nlength = \"ft\"\nspeed = \"m/s\"\nweight = \"lb\"\n\n[[locker.kite]]\nname = \"big one\"\npreset = \"light\"\n";
    std::fs::write(&path, text.unwrap() + more).unwrap();
    let own = ["--settings", path.to_str().unwrap()];
    let day = ["--wind", "7.2", "--gust", "9.8", "--speed", "3.1"];
    let feet = said(&skimwatch(&[&["rig"], &own[..], &day[..]].concat()));
    assert!(feet.contains("wind 7.2 m/s, gusts 9.8 m/s"), "{feet}");
    // 100 m are 328 ft (1 ft = 0.3048 m by definition); 23 lbf of drag are 23.0 lb.
    assert!(feet.contains("kite line 328 ft (assumed)"), "{feet}");
    assert!(feet.contains("23.0 lb"), "{feet}");
    assert!(feet.contains("kite big one: "), "{feet}");

    for wrong in [["--wind", "140"], ["--off-bow", "181"]] {
        let output = skimwatch(&[&["rig"], &demo[..], &wrong[..]].concat());
        assert_eq!(output.status.code(), Some(65), "{wrong:?}");
        assert!(String::from_utf8_lossy(&output.stderr).contains(wrong[0]));
    }
}

#[tokio::test]
async fn a_launch_is_asked_over_http() {
    let boat = advice();
    let answer = get(
        &boat,
        "/v1/launch?wind_mps=7&gust_mps=9&speed_mps=3&off_bow_deg=60&kite_line_out_m=100",
    )
    .await;
    assert_eq!(answer.status, 200, "{}", answer.text);
    let answer = answer.json();
    assert!(answer["why"].is_null());
    let steps = answer["launch"]["steps"].as_array().unwrap();
    assert!(steps[0]["what"].as_str().unwrap().contains("Aircraft"));
    let last = steps.last().unwrap();
    assert_eq!(last["lines"]["kite_line_out_m"], 100.0);
    assert_eq!(last["expected"]["bait"], "skips");
    let calm = get(&boat, "/v1/launch?wind_mps=0.5&gust_mps=0.6&speed_mps=0.5")
        .await
        .json();
    assert!(calm["launch"].is_null());
    assert!(
        calm["why"].as_str().unwrap().contains("too little wind"),
        "{calm}"
    );
    let answer = get(&boat, "/v1/launch?wind_mps=99").await;
    answer.problem(422, "out-of-range");
}

#[test]
fn a_launch_is_printed_at_the_terminal() {
    let launch = ["rig", "--launch", "--settings", "config/demo.toml"];
    let day = ["--wind", "14", "--gust", "18", "--speed", "6"];
    let steps = said(&skimwatch(&[&launch[..], &day[..]].concat()));
    assert!(steps.starts_with("1. Look up and round"), "{steps}");
    assert!(
        steps.contains("LET OUT") && steps.contains("(to 100 m)"),
        "{steps}"
    );
    let calm = ["--wind", "1", "--gust", "1.2", "--speed", "1"];
    let output = skimwatch(&[&launch[..], &calm[..]].concat());
    assert_eq!(output.status.code(), Some(65));
    assert!(String::from_utf8_lossy(&output.stderr).contains("no launch: too little wind"));
}

#[test]
fn the_check_of_the_settings_tells_todays_rig() {
    let check = ["check", "--settings", "config/demo.toml", "--listen", "0"];
    let said = said(&skimwatch(&check));
    assert!(
        said.contains("today's rig: wind 14.0 kn (assumed)"),
        "{said}"
    );
    assert!(said.contains("tackle:"), "{said}");
}
