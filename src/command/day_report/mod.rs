//! A day on paper: one HTML file that needs no network, for A4 and Letter. Every figure is one of
//! `logbook::figures`; here it only gets its unit and its place.

mod plots;
mod writing;

use std::error::Error;
use std::fmt::Write as _;

use super::rig::Units;
use crate::decode::BaitState;
use crate::logbook::{Against, DayFigures, DayRows, TimeIn, Timeline, figures, timeline};
use crate::pass::{NEAR_M, SKIPS_SHARE};
use crate::score::reliability_svg;
use writing::{Clock, duration, escaped, known, percent, table, word};

const STYLE: &str = include_str!("style.css");

/// The report of a day.
pub(super) fn report(day: &DayRows, units: Units) -> Result<String, Box<dyn Error>> {
    let (figures, timeline) = (figures(day), timeline(day));
    let clock = Clock::of(day);
    let date = day.date.format("%-d %B %Y");
    let mut html = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width\">\n<title>Day {}</title>\n\
         <style>\n{STYLE}</style>\n</head>\n<body>\n<h1>Fishing day {date}</h1>\n",
        day.date
    );
    write_head(&mut html, &figures, clock)?;
    if let Some(plot) = plots::day(&figures, &timeline, clock)? {
        let caption = "What crew and bait did. Upper third: airborne; middle: skipping; lower: \
             dragging. By the model what at least half of its futures held; by the crew what they \
             tapped. Triangles are bites.";
        write_figure(&mut html, "The day", &plot, caption)?;
    }
    write_times(&mut html, &figures)?;
    write_bites(&mut html, &figures, units, clock)?;
    if let Some(plot) = plots::track(&timeline, &figures, units)? {
        let caption = "Tracks of boat (grey) and bait (green, by the model); triangles are bites, \
             numbered as in the table; crosses are marks.";
        write_figure(&mut html, "Track", &plot, caption)?;
    }
    if let Some(plot) = plots::wind_and_speed(day, units, clock)? {
        let caption = "True wind at the height of the sensor (dark), and the boat through the water \
             (green).";
        write_figure(&mut html, "Wind and speed", &plot, caption)?;
    }
    write_rates(&mut html, &figures, units)?;
    write_advice(&mut html, &figures, &timeline)?;
    write_passes(&mut html, &timeline, units, clock)?;
    write_marks(&mut html, &timeline, units, clock)?;
    write_troubles(&mut html, &timeline, clock)?;
    writeln!(
        html,
        "<footer>Written by skimwatch {} from the boat's logbook. What bait and kite did is by the \
         model where nothing else is said: nobody measured it. Times are those of the boat's zone \
         (UTC {}).</footer>\n</body>\n</html>",
        env!("CARGO_PKG_VERSION"),
        clock.zone()
    )?;
    Ok(html)
}

fn write_figure(html: &mut String, title: &str, svg: &str, caption: &str) -> std::fmt::Result {
    let title = escaped(title);
    writeln!(
        html,
        "<figure>\n<h2>{title}</h2>\n<div role=\"img\" aria-label=\"{title}\">{svg}</div>\n\
         <figcaption>{caption}</figcaption>\n</figure>"
    )
}

fn write_head(html: &mut String, figures: &DayFigures, clock: Clock) -> std::fmt::Result {
    let span = match (figures.from, figures.to) {
        (Some(from), Some(to)) => format!("{} to {}", clock.time(from), clock.time(to)),
        _ => String::new(),
    };
    let results: Vec<String> = figures
        .bites
        .iter()
        .filter_map(|bite| bite.result.map(|result| word(&result)))
        .collect();
    let skipping = share_of(&figures.by_model, BaitState::Skipping);
    let per_hour = figures.corrections.per_hour;
    let corrections = format!(
        "kite line {} times, main line {} times{}",
        figures.corrections.kite,
        figures.corrections.main,
        per_hour.map_or_else(String::new, |rate| format!(", {rate:.1} an hour"))
    );
    let bites = match results.len() {
        0 => figures.bites.len().to_string(),
        _ => format!("{}: {}", figures.bites.len(), results.join(", ")),
    };
    write!(html, "<dl>")?;
    for (what, told) in [
        (
            "Watched",
            format!("{span}, {}", duration(figures.watched_s)),
        ),
        ("Fished with a forecast", duration(figures.fishing_s)),
        ("Bait skipping of that, by the model", percent(skipping)),
        ("Bites", bites),
        ("Lines moved", corrections),
    ] {
        write!(
            html,
            "<div><dt>{what}</dt><dd>{}</dd></div>",
            escaped(&told)
        )?;
    }
    writeln!(html, "</dl>")
}

fn sum_of(times: &[TimeIn], holds: impl Fn(&TimeIn) -> bool) -> f64 {
    times
        .iter()
        .filter(|time| holds(time))
        .map(|time| time.time_s)
        .sum()
}

fn share_of(times: &[TimeIn], bait: BaitState) -> Option<f64> {
    let all_s = sum_of(times, |_| true);
    (all_s > 0.0).then(|| sum_of(times, |time| time.bait == bait) / all_s)
}

const BAIT: [(BaitState, &str); 3] = [
    (BaitState::Skipping, "skipping"),
    (BaitState::Airborne, "airborne"),
    (BaitState::Dragging, "dragging"),
];

/// Time by what the bait did, point of sail and tack.
fn write_times(html: &mut String, figures: &DayFigures) -> std::fmt::Result {
    let mut rows = Vec::new();
    for (by, times) in [
        ("the model", &figures.by_model),
        ("the crew", &figures.by_crew),
    ] {
        let mut kinds: Vec<(String, String)> = times
            .iter()
            .map(|time| (word(&time.point_of_sail), word(&time.tack)))
            .collect();
        kinds.sort();
        kinds.dedup();
        for (point, tack) in kinds {
            let of = |bait: BaitState| {
                sum_of(times, |time| {
                    time.bait == bait
                        && word(&time.point_of_sail) == point
                        && word(&time.tack) == tack
                })
            };
            let mut row = vec![
                by.to_owned(),
                if point.is_empty() {
                    "not known".to_owned()
                } else {
                    point.clone()
                },
                tack.clone(),
            ];
            row.extend(BAIT.iter().map(|(bait, _)| duration(of(*bait))));
            rows.push(row);
        }
    }
    let heads = [
        "by",
        "point of sail",
        "tack",
        "skipping",
        "airborne",
        "dragging",
    ];
    table(
        html,
        "What the bait did, while fishing",
        &heads,
        &rows,
        "Nothing was fished.",
    )
}

fn write_bites(
    html: &mut String,
    figures: &DayFigures,
    units: Units,
    clock: Clock,
) -> std::fmt::Result {
    let speed = |mps: Option<f64>| known(mps, |mps| Units::write(mps, units.speed()));
    let length = |m: Option<f64>| known(m, |m| Units::write(m, units.length()));
    let degrees = |deg: Option<f64>| known(deg, |deg| format!("{deg:.0}°"));
    let rows: Vec<Vec<String>> = (1..)
        .zip(&figures.bites)
        .map(|(number, bite)| {
            vec![
                number.to_string(),
                clock.time(bite.at),
                known(bite.result, |result| word(&result)),
                degrees(bite.heading_deg_true),
                speed(bite.speed_water_mps),
                speed(bite.wind_at_sensor_mps),
                length(bite.kite_line_m),
                length(bite.main_line_m),
                degrees(bite.kite_elevation_deg),
                degrees(bite.kite_off_astern_deg),
                known(bite.bait, |bait| word(&bait)),
            ]
        })
        .collect();
    let heads = [
        "",
        "time",
        "result",
        "heading",
        "boat",
        "wind",
        "kite line",
        "main line",
        "kite up",
        "kite off astern",
        "bait",
    ];
    table(html, "Bites", &heads, &rows, "No bite was told.")
}

fn write_rates(html: &mut String, figures: &DayFigures, units: Units) -> std::fmt::Result {
    let edge = |against: Against, value: f64| match against {
        Against::KiteElevationDeg | Against::KiteOffAsternDeg => format!("{value:.0}°"),
        Against::SpeedWaterMps | Against::WindAtSensorMps => Units::write(value, units.speed()),
    };
    let name = |against: Against| match against {
        Against::KiteElevationDeg => "kite above the horizon",
        Against::KiteOffAsternDeg => "kite off dead astern",
        Against::SpeedWaterMps => "boat through the water",
        Against::WindAtSensorMps => "wind at the sensor",
    };
    let told = figures
        .bite_rates
        .iter()
        .filter(|rate| rate.bites > 0 || rate.per_hour.is_some());
    let rows: Vec<Vec<String>> = told
        .map(|rate| {
            vec![
                name(rate.against).to_owned(),
                format!(
                    "{} to {}",
                    edge(rate.against, rate.from),
                    edge(rate.against, rate.to)
                ),
                rate.bites.to_string(),
                duration(rate.fishing_s),
                rate.per_hour
                    .map_or("less than an hour".to_owned(), |rate| format!("{rate:.1}")),
            ]
        })
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    let heads = ["quantity", "range", "bites", "fished", "bites an hour"];
    table(
        html,
        "Bites against what they may depend on",
        &heads,
        &rows,
        "",
    )?;
    writeln!(
        html,
        "<p class=\"note\">One day proves nothing: with so few bites most differences are chance.</p>"
    )
}

fn write_advice(
    html: &mut String,
    figures: &DayFigures,
    timeline: &Timeline,
) -> Result<(), Box<dyn Error>> {
    let rows: Vec<Vec<String>> = figures
        .advice
        .told
        .iter()
        .filter(|row| row.trouble == "all" && row.events + row.true_alarms + row.false_alarms > 0)
        .map(|row| {
            vec![
                word(&row.class).replace('_', " "),
                format!("{} of {}", row.detected, row.events),
                percent(row.detection),
                format!(
                    "{} of {}",
                    row.false_alarms,
                    row.true_alarms + row.false_alarms
                ),
                row.averted.to_string(),
                known(row.lead_median_s, |s| format!("{s:.0} s")),
            ]
        })
        .collect();
    let heads = [
        "turns",
        "events foretold",
        "share",
        "false alarms",
        "averted",
        "warning, middle",
    ];
    let none = "The crew tapped no event that advice could have foretold, and none was foretold.";
    table(html, "Was the advice right?", &heads, &rows, none)?;
    let mut outcomes: std::collections::BTreeMap<(String, String), u64> = Default::default();
    for advisory in &timeline.advisories {
        let outcome = advisory
            .outcome
            .map_or("not ended".to_owned(), |o| word(&o));
        *outcomes.entry((word(&advisory.kind), outcome)).or_default() += 1;
    }
    let rows: Vec<Vec<String>> = outcomes
        .into_iter()
        .map(|((kind, outcome), count)| {
            vec![
                kind.replace('-', " "),
                outcome.replace('_', " "),
                count.to_string(),
            ]
        })
        .collect();
    let heads = ["advisory", "ended as", "how many"];
    table(html, "Advisories", &heads, &rows, "None was raised.")?;
    // Without an event there is nothing to judge a chance by.
    let mut judged = figures.advice.clone();
    judged.chances.retain(|chances| chances.events > 0);
    if !judged.chances.is_empty() {
        let caption = "Judged by what the crew tapped, the only truth at sea, and a coarse one.";
        let svg = reliability_svg(&judged);
        write_figure(html, "Chances", &svg, caption)?;
    }
    Ok(())
}

fn write_passes(
    html: &mut String,
    timeline: &Timeline,
    units: Units,
    clock: Clock,
) -> std::fmt::Result {
    if timeline.passes.is_empty() {
        return Ok(());
    }
    let length = |m: f64| Units::write(m, units.length());
    let rows: Vec<Vec<String>> = timeline
        .passes
        .iter()
        .map(|pass| {
            vec![
                pass.mark.to_string(),
                clock.time(pass.offered_at),
                percent(Some(pass.chance)),
                known(pass.accepted_at, |at| clock.time(at)),
                pass.ended.map_or("not ended".to_owned(), |end| word(&end)),
                known(pass.closest_m, length),
                percent(pass.skipping_share),
            ]
        })
        .collect();
    let heads = [
        "mark",
        "offered",
        "chance",
        "accepted",
        "ended as",
        "bait came to",
        "skipping",
    ];
    table(html, "Passes over marks", &heads, &rows, "")?;
    writeln!(
        html,
        "<p class=\"note\">The chance is that the bait passes within {} and skips in {:.0} % of the \
         20 s before. What came of it is by the model.</p>",
        length(NEAR_M),
        100.0 * SKIPS_SHARE
    )
}

fn write_marks(
    html: &mut String,
    timeline: &Timeline,
    units: Units,
    clock: Clock,
) -> std::fmt::Result {
    let of_crew = timeline.marks.iter().filter(|mark| mark.last.number <= 999);
    let degrees = |deg: Option<f64>| known(deg, |deg| format!("{deg:.5}°"));
    let rows: Vec<Vec<String>> = of_crew
        .map(|mark| {
            let last = &mark.last;
            vec![
                last.number.to_string(),
                last.name.clone().unwrap_or_default(),
                clock.time(last.marked_at),
                word(&last.source).replace('_', " "),
                degrees(last.latitude_deg),
                degrees(last.longitude_deg),
                known(last.drift_mps, |mps| Units::write(mps, units.speed())),
                known(mark.to, |at| clock.time(at)),
            ]
        })
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    let heads = [
        "",
        "name",
        "marked",
        "how",
        "latitude",
        "longitude",
        "drift",
        "gone",
    ];
    table(html, "Marks of the crew", &heads, &rows, "")
}

fn write_troubles(html: &mut String, timeline: &Timeline, clock: Clock) -> std::fmt::Result {
    let rows: Vec<Vec<String>> = timeline
        .troubles
        .iter()
        .map(|trouble| {
            vec![
                clock.time(trouble.from),
                trouble.to.map_or("the end".to_owned(), |at| clock.time(at)),
                trouble.why.clone(),
            ]
        })
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    table(
        html,
        "Instruments that were missing",
        &["from", "to", "why"],
        &rows,
        "",
    )
}
