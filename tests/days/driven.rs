//! Hands on the stretches of a recorded boat: those that follow the advice (`hands.rs`), beside the
//! lines left alone, the scripted crew, and hands that know the rig and the wind.

use std::path::Path;

use skimwatch::decode::{CrewInput, Line};
use skimwatch::forecast::Hands;
use skimwatch::rig::{Rig, RunEnd, steady};
use skimwatch::scene::{ScriptMove, TruthRow};
use skimwatch::settings::Settings;
use skimwatch::time::Millis;
use skimwatch::units::metres;

use crate::Outcome;
use crate::dice::Dice;
use crate::hands::{Stage, Word, follow, skipping, told};
use crate::log::Log;
use crate::stretch::{
    Drawn, Others, ROW_S, STRETCH_S, Stretch, TRIMMED, Turn, each_stretch, flown, sentences,
};

/// A crew that follows the advice says so often what the bait does.
const LOOK_EVERY_S: f64 = 60.0;
/// Hands that know the rig move line for so long at a time, and no less than so much.
const STEP_S: f64 = 2.0;
const LEAST_M: f64 = 0.3;
/// They move none in the last seconds.
const LAST_S: f64 = 10.0;
/// The wind they go by, from and to, seen from now.
const FELT_S: (f64, f64) = (-10.0, 0.0);
const SEEN_S: (f64, f64) = (-5.0, 5.0);

/// A stretch on which hands follow the advice.
struct Driven<'a> {
    drawn: &'a Drawn<'a>,
    stretch: Stretch<'a>,
    rows: Vec<TruthRow>,
    /// Why the rows end before the stretch does.
    end: Option<RunEnd>,
    lines: Vec<(Millis, String)>,
}

impl Stage for Driven<'_> {
    fn duration_s(&self) -> f64 {
        STRETCH_S
    }

    fn lines(&self) -> &[(Millis, String)] {
        &self.lines
    }

    fn row(&self, t_s: f64) -> Option<&TruthRow> {
        self.rows.get((t_s / ROW_S) as usize)
    }

    fn moved(&mut self, hand: ScriptMove) -> Outcome<()> {
        self.stretch.hands.push(hand);
        let state = self.drawn.state.clone();
        (self.rows, self.end) = flown(&self.stretch, &self.drawn.rig, state);
        Ok(())
    }
}

/// Moves line as hands would that know the rig: every few seconds toward what it needs, settled, in the
/// mean wind between two moments, seen from now; at full pace, without a pause or an error.
fn track(stretch: &mut Stretch<'_>, rig: &Rig, hands: &Hands, (from_s, to_s): (f64, f64)) {
    let end_s = STRETCH_S - LAST_S;
    let times = (0..).map(|i| STEP_S * f64::from(i));
    for t_s in times.take_while(|t_s| *t_s < end_s) {
        let felt = stretch.settled((t_s + from_s).max(0.0), (t_s + to_s).clamp(1.0, end_s));
        let Ok(best) = steady(rig, &felt, TRIMMED, None) else {
            continue;
        };
        let by_m = best.main_line_m - stretch.main_at(t_s);
        let most_m = STEP_S * hands.pace_m_per_s(Line::Main, by_m);
        let by_m = by_m.clamp(-most_m, most_m);
        if by_m.abs() >= LEAST_M {
            stretch.hands.push(ScriptMove {
                start_s: t_s,
                line: Line::Main,
                by_m,
                over_s: STEP_S,
                told: false,
            });
        }
    }
}

/// Share of the turns' time in which the bait skips, by who has the lines.
const WHO: [&str; 5] = [
    "left alone",
    "with the script",
    "by the plan",
    "by hands that know the rig and the wind of the last 10 s",
    "by hands that know it 5 s ahead, too",
];

fn words(shares: [f64; WHO.len()]) -> String {
    let each: Vec<String> = (shares.iter().zip(WHO))
        .map(|(share, who)| format!("{:.0} % {who}", 100.0 * share))
        .collect();
    each.join(", ")
}

/// Those shares on one stretch, and the seconds they are shares of. `None` without turns.
fn compared(
    settings: &Settings,
    log: &Log,
    first: usize,
    name: &str,
    drawn: &Drawn<'_>,
) -> Outcome<Option<([f64; WHO.len()], f64)>> {
    let spans: Vec<(f64, f64)> = drawn.turns.iter().map(Turn::span).collect();
    if spans.is_empty() {
        return Ok(None);
    }
    let share = |rows: &[TruthRow]| skipping(rows, &spans, STRETCH_S).0;
    let untouched = Stretch {
        hands: Vec::new(),
        ..drawn.stretch.clone()
    };
    let tracked = [FELT_S, SEEN_S].map(|wind_s| {
        let mut stretch = untouched.clone();
        track(&mut stretch, &drawn.rig, &settings.forecast.hands, wind_s);
        share(&flown(&stretch, &drawn.rig, drawn.state.clone()).0)
    });
    let (rows, end) = flown(&untouched, &drawn.rig, drawn.state.clone());
    let (alone, turns_s) = skipping(&rows, &spans, STRETCH_S);
    let mut stage = Driven {
        drawn,
        rows,
        end,
        stretch: untouched,
        lines: sentences(log, first)
            .map(|(at, text)| (at, text.text.clone()))
            .collect(),
    };
    let mut dice = drawn.dice.clone();
    let out = |m: f64, sd: f64, dice: &mut Dice| Some(metres(m * dice.about(1.0, sd)));
    let lines = CrewInput::LinesOut {
        kite: out(stage.stretch.kite_m, 0.03, &mut dice),
        main: out(stage.stretch.main_m, 0.05, &mut dice),
    };
    let mut says = vec![(2.0, Word::Input(lines))];
    for turn in &drawn.turns {
        if let Some(ahead_s) = turn.announced_s {
            says.push((turn.start_s - ahead_s, Word::Input(turn.told(ahead_s))));
        }
    }
    let looks = (0..).map(|i| 25.0 + LOOK_EVERY_S * f64::from(i));
    says.extend(
        looks
            .take_while(|t| *t < STRETCH_S)
            .map(|t| (t, Word::Look)),
    );
    says.sort_by(|a, b| a.0.total_cmp(&b.0));
    let moves = follow(settings, &mut stage, &says, &mut dice)?;
    let shares = [
        alone,
        share(&drawn.rows),
        share(&stage.rows),
        tracked[0],
        tracked[1],
    ];
    println!(
        "{name}: skips {}; {}{}",
        words(shares),
        told(&moves, 0.0),
        (stage.end).map_or_else(String::new, |why| format!("; {why}")),
    );
    Ok(Some((shares, turns_s)))
}

/// Lets hands follow the advice on every usable stretch of some logs, and prints what comes of it.
pub fn follow_all(settings: &Settings, others: Others, logs: &[&Path]) -> Outcome<()> {
    let (mut sums, mut all_s) = ([0.0; WHO.len()], 0.0);
    for path in logs {
        let believed = &settings.rig.parameters;
        each_stretch(believed, others, path, |log, first, name, drawn| {
            if let Some((shares, s)) = compared(settings, log, first, name, &drawn)? {
                all_s += s;
                for (sum, share) in sums.iter_mut().zip(shares) {
                    *sum += share * s;
                }
            }
            Ok(())
        })?;
    }
    let shares = sums.map(|sum| sum / f64::max(all_s, ROW_S));
    println!("{:.0} min of turns: skips {}", all_s / 60.0, words(shares));
    Ok(())
}
