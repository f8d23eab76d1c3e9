//! Days from recorded boats: a stretch of a log flies the rig model (`stretch.rs`), and what the
//! program hears is the log itself.
//!
//! What the scripted crew moves it tells 10 % wrong, and it taps what the bait does (one tap in twenty
//! wrong).

use std::fmt::Write as _;
use std::path::Path;

use skimwatch::decode::{CrewInput, Line, encode_crew};
use skimwatch::feed::{FeedName, RawSentence};
use skimwatch::record::recorded_line;
use skimwatch::rig::RigParameters;
use skimwatch::scene::{Truth, TruthRow, TurnTruth};
use skimwatch::time::Millis;
use skimwatch::units::{degrees, metres};

use crate::dice::Dice;
use crate::hands::ELEVATION_DEG;
use crate::log::{HZ, Log, Moment};
use crate::stretch::{
    Drawn, Others, ROW_S, SENSOR_M, STRETCH_S, Stretch, Turn, each_stretch, sentences,
};
use crate::{Outcome, START, seen};

/// A recording, its truth, and a line about it.
type Day = (String, Truth, String);

/// Settings of a crew that knows its rig.
pub const NO_DOUBT: &str = "
[forecast.doubt]
kite_lift = 0.01
kite_drag = 0.01
wind_exponent = 0.003
wet_drag = 0.01
main_line_diameter = 0.01
kite_line_diameter = 0.01
marker_diameter = 0.01
main_line_out = 0.003
kite_line_out = 0.003
correction = 0.003
wind_angle_deg = 0.3
wind_speed = 0.01
wrong_report = 0.01
trim_immersion = 0.01
";

/// What the crew says, with its errors.
fn said(
    stretch: &Stretch<'_>,
    turns: &[Turn],
    rows: &[TruthRow],
    known: bool,
    dice: &mut Dice,
) -> Vec<(f64, CrewInput)> {
    let error = |sd: f64| if known { 0.0 } else { sd };
    let mut said = vec![(
        2.0,
        CrewInput::LinesOut {
            kite: Some(metres(stretch.kite_m * dice.about(1.0, error(0.03)))),
            main: Some(metres(stretch.main_m * dice.about(1.0, error(0.05)))),
        },
    )];
    for turn in turns {
        if let Some(ahead_s) = turn.announced_s {
            said.push((turn.start_s - ahead_s, turn.told(ahead_s)));
        }
    }
    let mut looks_s = vec![25.0];
    for hand in &stretch.hands {
        let done_s = hand.start_s + hand.over_s;
        let moved = CrewInput::Moved {
            line: Line::Main,
            by: metres(hand.by_m * dice.about(1.0, error(0.1))),
        };
        said.push((done_s, moved));
        looks_s.push(done_s + 25.0);
    }
    for at_s in looks_s {
        let Some(row) = rows.get((at_s / ROW_S) as usize) else {
            continue;
        };
        // Drawn in any case, so that what is drawn later stays the same.
        let tapped = seen(row.bait(), dice);
        let told = if known { row.bait() } else { tapped };
        said.push((at_s, CrewInput::Bait(told)));
        if dice.between(0.0, 1.0) < 0.5 {
            let told = degrees(
                dice.about(row.kite_elevation_deg, error(ELEVATION_DEG))
                    .round(),
            );
            said.push((at_s + 1.0, CrewInput::Elevation(told)));
        }
    }
    said.sort_by(|a, b| a.0.total_cmp(&b.0));
    said
}

/// One day from one stretch: recording, truth, and a line about it.
fn day(log: &Log, first: usize, name: &str, known: bool, drawn: Drawn<'_>) -> Outcome<Day> {
    let Drawn {
        turns,
        stretch,
        rows,
        mut dice,
        thrown,
        ..
    } = drawn;
    let (crew, instruments) = (FeedName::crew(), FeedName::new("instruments")?);
    let from_s = first as f64 / HZ;
    let mut lines: Vec<(Millis, &FeedName, RawSentence)> = sentences(log, first)
        .map(|(at, text)| (at, &instruments, text.clone()))
        .collect();
    for (sequence, (t_s, input)) in (1..).zip(said(&stretch, &turns, &rows, known, &mut dice)) {
        let sentence = RawSentence::own(encode_crew(&input, sequence));
        lines.push((START.plus_seconds(t_s), &crew, sentence));
    }
    lines.sort_by_key(|line| line.0);
    let recording = lines
        .iter()
        .map(|(at, feed, sentence)| recorded_line(*at, feed.as_str(), sentence))
        .collect();
    let mut words = format!(
        "{name}: from {from_s:.0} s, wind {:.1} m/s, boat {:.1} m/s, {} moves, {thrown} draws \
         thrown away; turns",
        stretch.mean(0.0, STRETCH_S - 1.0, Moment::wind_mps),
        stretch.mean(0.0, STRETCH_S - 1.0, |m| m.speed_mps),
        stretch.hands.len(),
    );
    let turns = turns
        .iter()
        .map(|turn| {
            let told = if turn.announced_s.is_some() {
                ""
            } else {
                " untold"
            };
            let _ = write!(words, " {:+.0}{told}", turn.by_rad.to_degrees());
            TurnTruth {
                start_s: turn.start_s,
                by_deg: turn.by_rad.to_degrees(),
                rate_deg_s: (turn.by_rad / turn.over_s).abs().to_degrees(),
                told_ahead_s: turn.announced_s,
            }
        })
        .collect();
    let truth = Truth::new(turns, SENSOR_M, None, rows);
    Ok((recording, truth, words))
}

/// Makes a day of every usable stretch of a log.
pub fn drive(believed: &RigParameters, others: Others, path: &Path, dir: &Path) -> Outcome<()> {
    each_stretch(believed, others, path, |log, first, name, drawn| {
        let (recording, truth, words) = day(log, first, name, others.known, drawn)?;
        std::fs::write(dir.join(name), recording)?;
        std::fs::write(
            dir.join(format!("{name}.truth.json")),
            serde_json::to_string(&truth)?,
        )?;
        println!("{words}");
        Ok(())
    })
}
