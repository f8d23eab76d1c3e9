//! Pictures of invented days, and whatever contradicts something else in one of them.
#![allow(dead_code, reason = "two test binaries use it, each a part")]

use skimwatch::advice::{Action, Advisory, Kind};
use skimwatch::decode::Line;
use skimwatch::engine::{Engine, Event, Mode, Snapshot};
use skimwatch::feed::CREW_FEED;
use skimwatch::forecast::{Forecast, Trouble};
use skimwatch::scene::{Script, demo_day, play};
use skimwatch::settings::{self, Settings};
use skimwatch::time::Millis;

use crate::forecast_scene::with_futures;

/// 2026-06-01T08:00:00Z, an invented morning.
const START: Millis = Millis(1_780_300_800_000);

fn demo_settings() -> Settings {
    settings::parse(include_str!("../../config/demo.toml"), "config/demo.toml").unwrap()
}

/// A sentence of a day: when, from which feed, what.
pub type Sentence = (Millis, String, String);

/// The demo's day with changes, as sentences.
pub fn invented_day(change: impl Fn(&mut Script)) -> Vec<Sentence> {
    let mut script = demo_day(START, &demo_settings().rig.parameters).unwrap();
    change(&mut script);
    let played = play(&script).unwrap();
    played
        .lines
        .into_iter()
        .map(|(at, text)| {
            let feed = if text.starts_with("$P") {
                CREW_FEED
            } else {
                "demo"
            };
            (at, feed.to_owned(), text)
        })
        .collect()
}

/// Every picture of a day, once a second and at every word of the crew.
pub fn each_picture(day: Vec<Sentence>, futures: usize, mut look: impl FnMut(&Snapshot)) {
    let mut engine = Engine::new(with_futures(futures), Mode::Replay);
    let mut next: Option<Millis> = None;
    for (at, feed, text) in day {
        let mut tick = *next.get_or_insert(at);
        while tick <= at {
            if let Some(picture) = engine.take(Event::Tick { at: tick }) {
                look(&picture.snapshot);
            }
            tick = tick.plus_seconds(1.0);
        }
        next = Some(tick);
        let line = Event::Line {
            at,
            feed: &feed,
            text: &text,
        };
        if let Some(picture) = engine.take(line) {
            look(&picture.snapshot);
        }
    }
}

pub fn is_active(advisory: &Advisory) -> bool {
    advisory.outcome.is_none()
}

/// A number with a unit that the page has to write, or with seconds that run.
pub fn quantity(text: &str) -> Option<String> {
    const UNITS: [&str; 9] = ["m", "s", "N", "ft", "kn", "kg", "lb", "m/s", "min"];
    let words: Vec<&str> = text
        .split([' ', '\u{a0}'])
        .map(|word| word.trim_matches(|c: char| ",.;:()".contains(c)))
        .collect();
    words.windows(2).find_map(|pair| {
        let [number, unit] = pair else { return None };
        let is_number = number.ends_with(|c: char| c.is_ascii_digit())
            && number.starts_with(|c: char| c.is_ascii_digit());
        (is_number && UNITS.contains(unit)).then(|| format!("{number} {unit}"))
    })
}

/// All texts of an advisory.
fn texts(advisory: &Advisory) -> Vec<&str> {
    let mut texts: Vec<&str> = vec![
        &advisory.title,
        &advisory.cause,
        &advisory.without_action,
        &advisory.chance_basis,
    ];
    for action in &advisory.actions {
        match action {
            Action::MoveLine { changed, .. } => {
                texts.extend(changed.as_ref().map(|changed| changed.why.as_str()));
            }
            Action::StepLine { until, .. } => texts.push(until),
            Action::See { what } => texts.push(what),
            Action::LimitTurn { .. } => {}
        }
    }
    texts
}

fn texts_of(forecast: &Forecast) -> Vec<&str> {
    let mut texts: Vec<&str> = vec![&forecast.basis, &forecast.crew.note];
    texts.extend(forecast.turn_limit.as_ref().map(|limit| limit.why.as_str()));
    texts.extend(
        forecast
            .plan
            .as_ref()
            .and_then(|plan| plan.shortfall.as_deref()),
    );
    texts.extend(
        forecast
            .fan
            .iter()
            .filter_map(|heading| heading.unfishable.as_deref()),
    );
    texts
}

/// The first order for a line.
fn order(advisory: &Advisory, of: Line) -> Option<f64> {
    advisory.actions.iter().find_map(|action| match action {
        Action::MoveLine { line, by_m, .. } if *line == of => Some(*by_m),
        Action::StepLine { line, least_m, .. } if *line == of => Some(*least_m),
        _ => None,
    })
}

fn is_of_bait(kind: Kind) -> bool {
    matches!(kind, Kind::BaitAirborne | Kind::BaitDragging)
}

/// Whatever contradicts something else in a picture.
pub fn contradictions(now: &Snapshot) -> Vec<String> {
    let mut found = Vec::new();
    let active: Vec<&Advisory> = now.advisories.iter().filter(|a| is_active(a)).collect();
    for advisory in &active {
        for text in texts(advisory) {
            if let Some(quantity) = quantity(text) {
                found.push(format!("{}: {quantity} in {text:?}", advisory.id));
            }
        }
        // 0.5 is the least chance that raises one (`raise_chance_planned`).
        if advisory.title.contains(" will ") && advisory.chance.is_some_and(|chance| chance < 0.5) {
            found.push(format!("{} with {:?}", advisory.title, advisory.chance));
        }
        if advisory.actions.is_empty() {
            found.push(format!("{} orders nothing", advisory.id));
        }
        let orders = advisory.actions.iter();
        let moves = orders
            .filter(|action| matches!(action, Action::MoveLine { .. }))
            .count();
        if moves == 0 && advisory.chance_with_plan.is_some() {
            found.push(format!(
                "{}: a chance with a plan that is not there",
                advisory.id
            ));
        }
        let by_eye = advisory.actions.iter();
        let by_eye = by_eye
            .filter(|action| matches!(action, Action::StepLine { .. }))
            .count();
        if by_eye > 0 && !advisory.title.contains(" is ") {
            found.push(format!(
                "{}: a rule of thumb for what nobody saw",
                advisory.title
            ));
        }
    }
    for line in [Line::Main, Line::Kite] {
        let orders: Vec<(&str, f64)> = active
            .iter()
            .filter_map(|advisory| Some((advisory.id.as_str(), order(advisory, line)?)))
            .collect();
        if orders.iter().any(|(_, by_m)| *by_m > 0.0) && orders.iter().any(|(_, by_m)| *by_m < 0.0)
        {
            found.push(format!("both ways with the {line:?} line: {orders:?}"));
        }
    }
    for pair in now.advisories.windows(2) {
        let [first, second] = pair else { continue };
        if is_active(first)
            && first.priority == second.priority
            && is_active(second)
            && second.kind.endangers_people()
            && !first.kind.endangers_people()
        {
            found.push(format!("{} before {}", first.id, second.id));
        }
    }
    if let Ok(forecast) = &now.forecast {
        found.extend(
            texts_of(forecast).into_iter().filter_map(|text| {
                quantity(text).map(|quantity| format!("{quantity} in {text:?}"))
            }),
        );
        found.extend(of_the_limit(forecast, &active));
    }
    found
}

/// What the turn limit says against the rest.
fn of_the_limit(forecast: &Forecast, active: &[&Advisory]) -> Vec<String> {
    let Some(limit) = &forecast.turn_limit else {
        return Vec::new();
    };
    let mut found = Vec::new();
    let rates = [limit.port_deg_s, limit.starboard_deg_s];
    if !limit.skips && (rates.iter().any(Option::is_some) || limit.why.is_empty()) {
        found.push(format!(
            "a rate, or no word, for a bait that does not skip: {limit:?}"
        ));
    }
    let out_of_band = forecast.chances.iter().any(|chance| {
        matches!(chance.kind, Trouble::BaitAirborne | Trouble::BaitDragging) && chance.so_now >= 0.5
    });
    if out_of_band && limit.skips {
        found.push("a limit for a bait that is out of its band".to_owned());
    }
    if let Some(turn) = &forecast.turn {
        let rate = rates[usize::from(turn.by_deg > 0.0)];
        let hopeless = forecast.chances.iter().any(|chance| {
            matches!(chance.kind, Trouble::BaitAirborne | Trouble::BaitDragging)
                && chance.chance_with_plan.unwrap_or(chance.chance) >= 0.5
        });
        if hopeless && rate.is_some_and(|rate| rate >= turn.rate_deg_s) {
            found.push(format!("the turn is allowed and its plan fails: {limit:?}"));
        }
    }
    for advisory in active.iter().filter(|advisory| is_of_bait(advisory.kind)) {
        let slower = advisory.actions.iter().find_map(|action| match action {
            Action::LimitTurn { rate_deg_s } => Some(*rate_deg_s),
            _ => None,
        });
        if let Some(rate) = slower
            && (!limit.skips || rates.iter().flatten().all(|limit| *limit > 1.5 * rate))
        {
            found.push(format!("{}: {rate} deg/s against {limit:?}", advisory.id));
        }
    }
    found
}

/// All turns the other way, and hands that follow none of them.
pub fn backwards(script: &mut Script) {
    script.seed = 13;
    script.moves.clear();
    for turn in &mut script.turns {
        turn.by_rad = -turn.by_rad;
    }
}
