//! Writes, for each target, seeds and a dictionary of the words in them, made from the program's own
//! types: `SEEDS=DIRECTORY seeds -runs=0` gives `DIRECTORY/TARGET/*` and `DIRECTORY/TARGET.dict`. It is
//! linked like a target, because everything here is built with the counters that libFuzzer reads.
#![no_main]

use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;

use axum::Router;
use serde_json::{Map, Value, json};
use skimwatch::access::{Access, Locks, PhoneName, Role};
use skimwatch::feed::tag::{TagGroup, format_tag};
use skimwatch::feed::{FeedName, RawSentence, Tag};
use skimwatch::forecast::Memory;
use skimwatch::record::recorded_line;
use skimwatch::rig::Scenario;
use skimwatch::settings::{self, parse, template};
use skimwatch::time::Millis;
use tokio_util::sync::CancellationToken;

#[path = "targets/api.rs"]
mod api;
#[path = "../page/invented.rs"]
mod invented;
#[path = "../page/invented_strike.rs"]
mod invented_strike;

const DEMO: &str = include_str!("../../config/demo.toml");
const FIXTURES: [&str; 3] = [
    include_str!("../../fixtures/sensor-silent.nmea"),
    include_str!("../../fixtures/turn-away.nmea"),
    include_str!("../../fixtures/turn-toward.nmea"),
];
const NOW: Millis = invented::START;

type Seeds = Vec<Vec<u8>>;

/// The well-formed sentences of the property tests, without a checksum.
fn sentences() -> Vec<&'static str> {
    let source = include_str!("../checks/decode_properties.rs");
    let found: Vec<_> = source
        .lines()
        .filter_map(|line| line.trim().strip_prefix("\"$")?.strip_suffix("\","))
        .collect();
    assert!(found.len() >= 30, "only {} seeds", found.len());
    found
}

/// The first minutes of the fixtures.
fn logs() -> impl Iterator<Item = String> {
    FIXTURES.iter().map(|text| {
        let lines: Vec<_> = text.lines().take(40).collect();
        lines.join("\r\n") + "\r\n"
    })
}

fn framing() -> Seeds {
    let sentences = sentences().into_iter().map(|body| format!("${body}\r\n"));
    sentences
        .chain(logs())
        .map(|text| [b"\x00\x20\x00", text.as_bytes()].concat())
        .collect()
}

fn decode() -> Seeds {
    let lines = sentences().into_iter().map(|body| format!("${body}"));
    lines.map(String::into_bytes).collect()
}

fn crew_words() -> Vec<&'static str> {
    let crew = |body: &'static str| body.strip_prefix("PSKWT,");
    sentences().into_iter().filter_map(crew).collect()
}

fn crew() -> Seeds {
    crew_words().into_iter().map(|words| words.into()).collect()
}

fn tag() -> Seeds {
    let tag = Tag {
        time: Some(NOW),
        source: Some("wind".to_owned()),
        destination: Some("bridge".to_owned()),
        group: Some(TagGroup {
            number: 1,
            total: 2,
            id: 125,
        }),
        line: Some(7),
        text: Some("unchecked".to_owned()),
    };
    let inside = format_tag(&tag).trim_matches('\\').to_owned();
    vec![inside.into_bytes(), b"1G2:125,c:1553390539".to_vec()]
}

fn whole_settings() -> Seeds {
    let changes = [
        "kite.area_m2 1.4",
        "boat.structure.1 ",
        "serve.bind 0.0.0.0:80",
    ];
    let shown = template();
    let lines = shown
        .lines()
        .filter_map(|line| match line.strip_prefix("# ") {
            // Keys and sections that are shown as comments.
            Some(rest) if rest.starts_with('[') || rest.contains(" = ") => Some(rest),
            Some(_) => None,
            None => Some(line),
        });
    let shown = lines.collect::<Vec<_>>().join("\n");
    // Each section by itself.
    let parts = shown.split("\n\n").map(str::to_owned);
    let changed = changes.iter().map(|change| format!("# {change}\n{DEMO}"));
    parts
        .chain(changed)
        .chain([DEMO.to_owned()])
        .map(String::into_bytes)
        .collect()
}

fn scenario() -> Seeds {
    let all = serde_json::to_value(Scenario::default()).expect("a scenario is written");
    let mut sea = all.clone();
    sea["sea"] = json!({});
    sea["numerics"] = json!({});
    sea["boat"]["turn"] = json!({"start_s": 5.0, "by_deg": 60.0, "rate_deg_s": 4.0});
    [json!({}), all, sea]
        .iter()
        .map(|value| value.to_string().into_bytes())
        .collect()
}

fn recording() -> Seeds {
    let iso = sentences()
        .iter()
        .enumerate()
        .map(|(second, body)| format!("2026-03-14T10:00:{:02}Z ${body}\r\n", second % 60))
        .collect();
    let plain =
        "$GPZDA,235959.00,14,03,2026,00,00\r\n$GPZDA,000000.00,14,03,2026,00,00\r\n".to_owned();
    logs().chain([iso, plain]).map(String::into_bytes).collect()
}

fn learnt() -> Seeds {
    let settings = parse(DEMO, "demo.toml").expect("the demo's settings are sound");
    let rig = serde_json::to_value(&settings.rig.parameters).expect("a rig is written");
    let doubt = serde_json::to_value(settings.forecast.doubt).expect("a doubt is written");
    let kite = |traits: usize| {
        json!({"learnt_at_unix_ms": NOW.0, "reports": 4, "rig": rig, "doubt": doubt, "beliefs": [
            {"weight": 0.5, "traits": vec![0.25; traits]},
            {"weight": 0.5, "traits": vec![-1.5; traits]},
        ]})
    };
    let memory = |traits| {
        json!({"format": 2, "kites": [kite(traits)]})
            .to_string()
            .into_bytes()
    };
    let traits = (1..64).find(|traits| Memory::from_json(&memory(*traits)).is_ok());
    let traits = traits.expect("a belief has some traits");
    let mut first = kite(traits);
    first["format"] = json!(1);
    vec![memory(traits), first.to_string().into_bytes()]
}

fn journal() -> Seeds {
    let feed = FeedName::crew();
    let lines = |words: &[&str]| -> Vec<u8> {
        let clock = "ZQZDA,095959.00,14,03,2026,00,00".to_owned();
        let said = words.iter().map(|words| format!("PSKWT,{words}"));
        let sealed = |body: String| {
            let sum = skimwatch::feed::tag::xor(body.as_bytes());
            RawSentence::own(format!("${body}*{sum:02X}"))
        };
        let line = |body| recorded_line(NOW, feed.as_str(), &sealed(body)) + "\r\n";
        std::iter::once(clock)
            .chain(said)
            .flat_map(|body| line(body).into_bytes())
            .collect()
    };
    let words = crew_words();
    let mut seeds = vec![lines(&words)];
    seeds.extend(words.chunks(4).map(lines));
    seeds
}

fn phones() -> Seeds {
    let path = std::env::temp_dir().join(format!("skimwatch-seed-{}", std::process::id()));
    let locks = Locks {
        touch: true,
        look: false,
    };
    let access = Access::new(locks, Some(path.clone()));
    let mut seeds = Vec::new();
    for (name, role) in [("mate's phone", Role::Crew), ("tablet", Role::Keeper)] {
        let invited = access.invite(role).expect("random numbers");
        let name = PhoneName::new(name).expect("a name");
        access
            .join(&invited.code, name, NOW)
            .expect("the code is good");
        seeds.push(fs::read(&path).expect("the file of the phones"));
    }
    drop(access);
    fs::remove_file(&path).expect("the file of the phones");
    seeds
}

/// A value that fits a schema of the interface document; of an object all its members.
fn example(document: &Value, schema: &Value) -> Value {
    if let Some(name) = schema["$ref"].as_str() {
        let at = name.trim_start_matches('#');
        return example(document, document.pointer(at).expect("a schema"));
    }
    for several in ["oneOf", "anyOf", "allOf"] {
        if let Some(one) = schema[several].as_array().and_then(|all| all.last()) {
            return example(document, one);
        }
    }
    if let Some(word) = schema["enum"].get(0) {
        return word.clone();
    }
    if let Some(members) = schema["properties"].as_object() {
        let each = members
            .iter()
            .map(|(name, member)| (name.clone(), example(document, member)));
        return Value::Object(each.collect::<Map<_, _>>());
    }
    match schema["type"].to_string() {
        kind if kind.contains("number") || kind.contains("integer") => {
            schema.get("maximum").cloned().unwrap_or(json!(1))
        }
        kind if kind.contains("boolean") => json!(true),
        kind if kind.contains("object") => json!({"kite.area_m2": 1.4}),
        _ => json!("birds"),
    }
}

fn bodies() -> Seeds {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build();
    runtime.expect("a runtime").block_on(async {
        let boat = invented::boat(invented::moment("advice", NOW));
        let app: Router = skimwatch::serve::app(
            invented::settings(),
            boat.sources.clone(),
            CancellationToken::new(),
        );
        let (document, routes) = api::routes(&app).await;
        let mut seeds = Vec::new();
        for (index, route) in routes.iter().enumerate() {
            let schema = &route.operation["requestBody"]["content"]["application/json"]["schema"];
            let body = example(&document, schema);
            let index = u8::try_from(index).expect("few routes");
            let alone = body.as_object().into_iter().flatten();
            let alone = alone.map(|(name, value)| json!({ name: value }));
            for body in std::iter::once(body.clone()).chain(alone) {
                seeds.push([&[0, index], body.to_string().as_bytes()].concat());
            }
        }
        seeds
    })
}

/// Words of the seeds in the form of a dictionary of libFuzzer.
fn dictionary(seeds: &Seeds, more: impl Iterator<Item = String>) -> String {
    let word = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'_' || byte == b'-';
    let mut words: BTreeSet<String> = more.collect();
    for seed in seeds {
        let pieces = seed.split(|byte| !word(*byte));
        let fit = pieces.filter(|piece| (2..=40).contains(&piece.len()));
        words.extend(fit.map(|piece| String::from_utf8_lossy(piece).into_owned()));
    }
    words
        .iter()
        .take(800)
        .map(|word| format!("\"{word}\"\n"))
        .collect()
}

libfuzzer_sys::fuzz_target!(init: write(), |_input: &[u8]| {});

fn write() {
    let into = PathBuf::from(std::env::var_os("SEEDS").expect("a directory"));
    let targets: [(&str, fn() -> Seeds); 11] = [
        ("bodies", bodies),
        ("crew", crew),
        ("decode", decode),
        ("framing", framing),
        ("journal", journal),
        ("learnt", learnt),
        ("phones", phones),
        ("recording", recording),
        ("scenario", scenario),
        ("settings", whole_settings),
        ("tag", tag),
    ];
    for (name, seeds) in targets {
        let (dir, seeds) = (into.join(name), seeds());
        fs::create_dir_all(&dir).expect("a directory for seeds");
        for (number, seed) in seeds.iter().enumerate() {
            fs::write(dir.join(number.to_string()), seed).expect("a seed is written");
        }
        let keys = settings::keys()
            .map(|(key, _)| key)
            .filter(|_| name == "settings");
        fs::write(into.join(format!("{name}.dict")), dictionary(&seeds, keys))
            .expect("a dictionary");
    }
}
