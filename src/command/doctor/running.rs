//! What the daemon that runs says of itself, out of its `/v1/state`.

use serde_json::Value;

use super::Findings;
use crate::engine::Mode;
use crate::serve::OutletKind;
use crate::time::Millis;

/// A feed that is silent for longer is looked at.
const SILENT_S: f64 = 10.0;
/// Stamps further than this from the clock, seconds, come from a clock that was corrected since.
const APART_S: f64 = 5.0;

pub(super) fn look(findings: &mut Findings, state: &Value, now: Millis) {
    let version = state["version"].as_str().unwrap_or_default();
    if version == env!("CARGO_PKG_VERSION") {
        findings.good("daemon", format!("it runs, version {version}"));
    } else {
        findings.wrong(
            "daemon",
            format!("it is of version {version}: start it again"),
        );
    }
    if state["mode"] != serde_json::json!(Mode::Live) {
        findings.wrong(
            "daemon",
            format!(
                "what it shows is no live boat but: {}",
                word(&state["mode"])
            ),
        );
    }
    pace(findings, state, now);
    // What the crew says, and the program itself, comes over no link.
    let over_a_link = |feed: &&Value| !feed["link"].is_null();
    for feed in list(&state["feeds"]).iter().filter(over_a_link) {
        one_feed(findings, feed);
    }
    for missing in list(&state["vessel"]["missing"]) {
        findings.note("missing", word(&missing["why"]));
    }
    for reason in list(&state["forecast"]["reasons"]) {
        findings.note("forecast", word(reason));
    }
    for (about, kept) in [
        ("recording", &state["recorder"]),
        ("journal", &state["journal"]),
        ("logbook", &state["logbook"]),
    ] {
        keeping(findings, about, kept);
    }
    for outlet in list(&state["outlets"]) {
        telling(findings, outlet);
    }
    if let Some(why) = state["learnt_trouble"].as_str() {
        findings.wrong("learnt", why);
    }
    for advisory in list(&state["advisories"]) {
        findings.note("advisory", word(&advisory["title"]));
    }
}

/// How far behind it is, and whether its stamps are those of the clock.
fn pace(findings: &mut Findings, state: &Value, now: Millis) {
    let lag_s = state["lag_s"].as_f64().unwrap_or(f64::INFINITY);
    let words = format!("pictures are {lag_s:.1} s behind");
    if state["late"] == false {
        findings.good("lag", words);
    } else {
        findings.wrong(
            "lag",
            format!("{words}: the computer is too slow, or it hangs"),
        );
    }
    let at = state["at_unix_ms"].as_i64().map(Millis);
    let apart_s = at.map_or(0.0, |at| now.seconds_since(at) - lag_s);
    if apart_s.abs() > APART_S {
        findings.note(
            "clock",
            format!(
                "its stamps are {apart_s:.0} s behind this computer's clock, which was set since it \
                 started"
            ),
        );
    }
}

fn one_feed(findings: &mut Findings, feed: &Value) {
    const ABOUT: &str = "feed";
    let (name, link) = (word(&feed["name"]), word(&feed["link"]));
    let kinds = feed["kinds"].as_object();
    let kinds: Vec<_> = kinds.into_iter().flat_map(|kinds| kinds.keys()).collect();
    let refused = feed["refused"].as_object();
    let refused: Vec<_> = refused
        .into_iter()
        .flatten()
        .map(|(cause, count)| format!("{count} {cause}"))
        .collect();
    match feed["last_age_s"].as_f64() {
        None => findings.wrong(ABOUT, format!("{name}: {link}; nothing was heard yet")),
        Some(age_s) if age_s > SILENT_S => {
            findings.wrong(ABOUT, format!("{name}: {link}; silent for {age_s:.0} s"));
        }
        Some(_) => {
            let kinds: Vec<_> = kinds.iter().map(|kind| kind.as_str()).collect();
            let rate_hz = feed["rate_hz"].as_f64().unwrap_or_default();
            findings.good(
                ABOUT,
                format!("{name}: {link}; {rate_hz:.1} a second: {}", kinds.join(" ")),
            );
        }
    }
    if !refused.is_empty() {
        let refused = refused.join(", ");
        findings.note(ABOUT, format!("{name}: refused so far: {refused}"));
    }
}

/// Recording, journal or logbook.
fn keeping(findings: &mut Findings, about: &'static str, kept: &Value) {
    let state = word(&kept["state"]);
    let file = kept["file"].as_str().unwrap_or_default();
    match state.as_str() {
        "failing" => findings.wrong(about, word(&kept["cause"])),
        "off" => findings.note(about, "off"),
        _ => findings.good(about, format!("{state} {file}")),
    }
    if let Some(aside) = kept["set_aside"].as_str() {
        findings.note(about, format!("a damaged file was kept as {aside}"));
    }
}

/// A device or a broker that is told.
fn telling(findings: &mut Findings, outlet: &Value) {
    let about = if outlet["kind"] == serde_json::json!(OutletKind::Webhook) {
        "webhook"
    } else {
        "mqtt"
    };
    let to = word(&outlet["to"]);
    match word(&outlet["state"]).as_str() {
        "failing" => findings.wrong(
            about,
            format!(
                "{to}: {}; since {}",
                word(&outlet["cause"]),
                word(&outlet["failing_since"])
            ),
        ),
        "working" => findings.good(about, format!("{to} takes what it is told")),
        state => findings.note(about, format!("{to}: {state}")),
    }
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map(Vec::as_slice).unwrap_or_default()
}

/// The text of a value, without quotes.
fn word(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Null => "?".to_owned(),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::super::Verdict;
    use super::*;

    const NOW: Millis = Millis(1_773_482_400_000);

    /// As a daemon answers that fares well.
    fn well() -> Value {
        json!({
            "version": env!("CARGO_PKG_VERSION"), "mode": Mode::Live,
            "at_unix_ms": NOW.0 - 400, "lag_s": 0.4, "late": false,
            "feeds": [{"name": "wind", "link": "open (1 connected)", "last_age_s": 0.2,
                "rate_hz": 2.0, "kinds": {"HDT": 5, "MWV": 7}, "refused": {}}],
            "vessel": {"missing": []}, "forecast": {"reasons": []},
            "recorder": {"state": "recording", "file": "/r/a.nmea"},
            "journal": {"state": "keeping"}, "logbook": {"state": "keeping"},
            "outlets": [{"kind": "webhook", "to": "192.0.2.20:80", "state": "working"}],
            "learnt_trouble": null, "advisories": [],
        })
    }

    fn wrong(state: &Value) -> Vec<(&'static str, String)> {
        let mut findings = Findings::default();
        look(&mut findings, state, NOW);
        let wrong = findings.findings.into_iter();
        wrong
            .filter(|finding| finding.verdict == Verdict::Wrong)
            .map(|finding| (finding.about, finding.words))
            .collect()
    }

    #[test]
    fn a_daemon_that_fares_well_is_told_so() {
        assert_eq!(wrong(&well()), []);
        let mut findings = Findings::default();
        look(&mut findings, &well(), NOW);
        assert!(
            findings
                .lines()
                .contains("wind: open (1 connected); 2.0 a second: HDT MWV")
        );
    }

    #[test]
    fn each_trouble_is_wrong() {
        for (member, value, about) in [
            ("/version", json!("0.0.1"), "daemon"),
            ("/mode", json!(Mode::Demo), "daemon"),
            ("/late", json!(true), "lag"),
            ("/feeds/0/last_age_s", json!(null), "feed"),
            ("/feeds/0/last_age_s", json!(11.0), "feed"),
            ("/recorder/state", json!("failing"), "recording"),
            ("/journal/state", json!("failing"), "journal"),
            ("/logbook/state", json!("failing"), "logbook"),
            ("/outlets/0/state", json!("failing"), "webhook"),
            ("/learnt_trouble", json!("full"), "learnt"),
        ] {
            let mut state = well();
            *state.pointer_mut(member).unwrap() = value;
            let found = wrong(&state);
            assert_eq!(found.len(), 1, "{member}: {found:?}");
            assert_eq!(found[0].0, about);
        }
    }

    #[test]
    fn a_clock_that_was_set_since_is_noted() {
        let mut state = well();
        state["at_unix_ms"] = json!(NOW.0 - 3_600_000);
        let mut findings = Findings::default();
        look(&mut findings, &state, NOW);
        assert!(findings.lines().contains("stamps are 3600 s behind"));
    }
}
