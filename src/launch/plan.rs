//! The launch of the rig that flies: its steps, from a simulation.
//! In: locker, day, paces. Out: the steps, or why there are none.

use serde::Serialize;
use thiserror::Error;
use utoipa::ToSchema;

use super::path::Path;
use super::step::{Expected, Lines, Step};
use crate::locker::{Day, Locker, Verdict, allowed_shares, flown_today};
use crate::rig::{
    Conditions, LOWEST_KITE_RAD, LineLengths, MainLine, NoTrim, Rig, Run, Sample, Steady,
    TRIM_IMMERSION, loads, settled_state,
};

/// The steps of a launch.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Launch {
    /// The day it is made for.
    pub day: Day,
    /// In order.
    pub steps: Vec<Step>,
    /// Greatest height of the bait in the simulation.
    pub highest_bait_m: f64,
    /// Time of the steps with both lines, s, with the looks between them.
    pub takes_s: f64,
}

/// Why there is no launch.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("no launch: {why}")]
pub struct NoLaunch {
    /// In words.
    pub why: String,
}

/// Kite line beyond the clip when both lines start to run, m (own choice: the clip hangs clear of
/// the rod tip).
const START_BEYOND_CLIP_M: f64 = 3.0;
/// Kite line that runs out in one step at most, m, and fewest and most steps (own choice).
const STEP_M: f64 = 15.0;
const STEPS: [f64; 2] = [3.0, 8.0];
/// Immersions that are tried for a trim: with the clip low, the line below the ring is longer than
/// the clip is high, and the bait lies deeper.
const IMMERSIONS: [f64; 5] = [TRIM_IMMERSION, 0.4, 0.6, 0.8, 0.9];
/// Paces of the kite line that are tried, m/s, fastest first (own choice).
const TRIED_MPS: [f64; 6] = [1.0, 0.75, 0.5, 0.35, 0.25, 0.15];
/// A look between two steps, and at the end, s.
const LOOK_S: f64 = 15.0;
const LAST_LOOK_S: f64 = 60.0;
/// Highest bait that a plan accepts, m: hands that are off must stay below the 15 m that no launch
/// may pass.
const HIGHEST_BAIT_M: f64 = 5.0;
/// Interval of the samples that are judged, s.
const SAMPLE_S: f64 = 0.5;
/// Immersions between which a correction moves the bait, and its bounds, m.
const FROM_IMMERSION: f64 = 0.05;
const TO_IMMERSION: f64 = 0.55;
const NUDGE_M: [f64; 2] = [1.0, 8.0];

fn no(why: impl Into<String>) -> NoLaunch {
    NoLaunch { why: why.into() }
}

/// The launch of the rig that flies, for this day.
///
/// # Errors
/// Why there is none.
pub fn launch(locker: &Locker, day: &Day) -> Result<Launch, NoLaunch> {
    can_fly(locker, day)?;
    let rig = Rig::new(&locker.flown).map_err(|_| no("a number of the rig is out of range"))?;
    let conditions = day.conditions(day.wind_mps);
    let (marks, start) = marks(&rig, &conditions)?;
    let mut why = String::new();
    for pace in TRIED_MPS {
        let path = Flight::new(&marks, pace.min(locker.kite_give_mps), locker.main_give_mps);
        match path.fly(locker, &rig, conditions, &start) {
            Ok(flown) => return Ok(told(locker, day, &rig, &conditions, &marks, &path, &flown)),
            Err(because) => why = because,
        }
    }
    Err(no(format!(
        "however slowly the lines run out, {why} in the simulated launch"
    )))
}

/// Whether kite and parts stand the day at all.
fn can_fly(locker: &Locker, day: &Day) -> Result<(), NoLaunch> {
    let today = flown_today(locker, day);
    if let Some(cannot) = today.cannot {
        return Err(no(cannot));
    }
    if let Some(check) = today.checks.iter().find(|c| c.verdict == Verdict::Wrong) {
        let change = check.change.as_ref();
        let cure = change.map_or("", |change| change.what);
        let least = change
            .and_then(|change| change.to)
            .map_or_else(String::new, |to| format!(": {:.0} N", to.value));
        return Err(no(format!(
            "{} ({}) is out of its bounds in the gusts. It takes {cure}{least}",
            check.what, check.part
        )));
    }
    match today.range {
        Some(range) if range.least_wind_mps > day.lull_mps() => {
            Err(no(format!("in the lulls {}", range.below)))
        }
        Some(_) => Ok(()),
        None => Err(no("there is no wind in which this kite can be fished")),
    }
}

/// Lines out at the start and after each step, and the rig settled at the start.
fn marks(rig: &Rig, conditions: &Conditions) -> Result<(Vec<LineLengths>, Steady), NoLaunch> {
    let parameters = rig.parameters();
    let first_m = parameters.kite_line.clip_to_kite_m + START_BEYOND_CLIP_M;
    let last_m = conditions.kite_line_out_m;
    if last_m < first_m + 5.0 {
        return Err(no(
            "the kite line wanted out is hardly longer than clip to kite",
        ));
    }
    let count = ((last_m - first_m) / STEP_M)
        .ceil()
        .clamp(STEPS[0], STEPS[1]);
    let kite_m = |step: f64| first_m + (last_m - first_m) * step / count;
    // From the end, whose trim is known to be there, each from the one after it.
    let mut marks = Vec::new();
    let mut first = None;
    let mut step = count;
    while step >= 0.0 {
        let trimmed = trimmed(rig, conditions, kite_m(step)).map_err(|why| {
            no(format!(
                "with {:.0} m of kite line out: {why}",
                kite_m(step)
            ))
        })?;
        marks.push(LineLengths {
            kite_m: kite_m(step),
            main_m: trimmed.main_line_m,
        });
        first = Some(trimmed);
        step -= 1.0;
    }
    marks.reverse();
    // Main line only runs out.
    for i in (1..marks.len()).rev() {
        marks[i - 1].main_m = marks[i - 1].main_m.min(marks[i].main_m);
    }
    match first {
        Some(start) => Ok((marks, start)),
        None => Err(no("there is no step")),
    }
}

/// The bait as little in the water as the marker below the ring lets it, but for a trimmed one.
fn trimmed(rig: &Rig, conditions: &Conditions, kite_m: f64) -> Result<Steady, NoTrim> {
    let at = Conditions {
        kite_line_out_m: kite_m,
        ..*conditions
    };
    let mut failed = None;
    for immersion in IMMERSIONS {
        match settled_state(rig, &at, MainLine::Immersion(immersion), None) {
            Ok(found) => return Ok(found),
            Err(why) => failed = failed.or(Some(why)),
        }
    }
    Err(failed.unwrap_or(NoTrim::LineInWater))
}

/// Both lines on their way through the marks.
struct Flight {
    /// Time that each step takes, s.
    over_s: Vec<f64>,
    marks: Vec<LineLengths>,
}

/// What the simulation showed of each step.
struct Flown {
    expected: Vec<Expected>,
    highest_bait_m: f64,
    takes_s: f64,
}

impl Flight {
    fn new(marks: &[LineLengths], kite_mps: f64, main_most_mps: f64) -> Self {
        let over_s = marks
            .windows(2)
            .map(|pair| {
                let kite_s = (pair[1].kite_m - pair[0].kite_m) / kite_mps;
                let main_s = (pair[1].main_m - pair[0].main_m) / main_most_mps;
                kite_s.max(main_s)
            })
            .collect();
        Self {
            over_s,
            marks: marks.to_vec(),
        }
    }

    /// Flies it; why not, in words, where something goes beyond its bounds.
    fn fly(
        &self,
        locker: &Locker,
        rig: &Rig,
        conditions: Conditions,
        start: &Steady,
    ) -> Result<Flown, String> {
        let mut path = Path::new(conditions, self.marks[0]);
        path.rest(LOOK_S);
        let mut ends_s = Vec::new();
        for (over_s, mark) in self.over_s.iter().zip(&self.marks[1..]) {
            path.go(*over_s, *mark);
            path.rest(LOOK_S);
            ends_s.push(path.end().0);
        }
        path.rest(LAST_LOOK_S);
        ends_s.push(path.end().0);
        let takes_s = path.end().0;
        let mut run = Run::new(rig, path, start.state.clone(), 0.0);
        let mut flown = Flown {
            expected: Vec::new(),
            highest_bait_m: 0.0,
            takes_s,
        };
        let mut t_s = 0.0;
        for end_s in ends_s {
            let (mut highest_m, mut load_n) = (0.0_f64, 0.0_f64);
            loop {
                t_s = f64::min(t_s + SAMPLE_S, end_s);
                let sample = run.advance_to(t_s).map_err(|end| end.to_string())?;
                within(locker, rig, &sample)?;
                highest_m = highest_m.max(sample.bait_height_m);
                load_n = load_n.max(sample.kite_line_tension_n);
                if t_s >= end_s {
                    flown
                        .expected
                        .push(Expected::new(&sample, highest_m, load_n));
                    break;
                }
            }
            flown.highest_bait_m = flown.highest_bait_m.max(highest_m);
        }
        Ok(flown)
    }
}

/// What is beyond its bounds in a sample.
fn within(locker: &Locker, rig: &Rig, sample: &Sample) -> Result<(), String> {
    if sample.bait_height_m > HIGHEST_BAIT_M {
        return Err("the bait flies high".to_owned());
    }
    if sample.kite_elevation_rad < LOWEST_KITE_RAD {
        return Err("the kite sinks low".to_owned());
    }
    let allowed = allowed_shares(locker);
    let beyond = loads(rig, sample)
        .into_iter()
        .flatten()
        .any(|load| load.share > allowed.of(load.limit));
    if beyond {
        return Err("a part passes its share".to_owned());
    }
    Ok(())
}

const LOOK: Step = Step::plain(
    "Look up and round",
    "Aircraft, power lines, aerials of other boats, lightning, traffic: launch only where all of it \
     is clear, and keep a look-out while you do. Local rules, the air rules of the place and \
     licensed practice come before these steps.",
);
const LANYARD: Step = Step::plain(
    "Lanyard on the kite rod",
    "Tie the kite rod to the boat before it carries any load.",
);
const CLIP: Step = Step::plain(
    "Kite out to the clip",
    "Let the kite out until the clip on its line is at the rod tip. Hands clear of the line.",
);
const RING: Step = Step::plain(
    "Ring on the main line",
    "The main line runs through the ring; the ring rides ahead of the swivel, toward the reel.",
);
const BAND: Step = Step::plain(
    "Band on, clip tight",
    "Loop the release band between ring and clip. Close the clip tight, so that the band lets go \
     and not the clip.",
);
const MARKER: Step = Step::plain(
    "Marker on",
    "Let the bait out astern and knot the marker on the main line, this far above the bait.",
);
const START: Step = Step::plain(
    "Clip out from the rod tip",
    "Let out both lines until the clip hangs clear of the rod tip. The bait drags in the water, \
     close astern, and may do so until the clip is higher.",
);
const BOTH: Step = Step::plain(
    "Both lines together",
    "Let out both lines slowly and evenly, to end at the same time. Then look at the bait.",
);
const TRIM: Step = Step::plain(
    "Trim the bait",
    "Look at the bait for a while. If it flies, let out main line; if it drags, wind in. Again until \
     it skips.",
);

/// The steps in words and numbers.
fn told(
    locker: &Locker,
    day: &Day,
    rig: &Rig,
    conditions: &Conditions,
    marks: &[LineLengths],
    flight: &Flight,
    flown: &Flown,
) -> Launch {
    let parameters = &locker.flown;
    let mut steps = vec![
        LOOK,
        LANYARD,
        Step {
            length_m: Some(parameters.kite_line.clip_to_kite_m),
            ..CLIP
        },
        RING,
        BAND,
        Step {
            length_m: Some(parameters.marker.above_bait_m),
            ..MARKER
        },
    ];
    let lines = |before: Option<LineLengths>, mark: LineLengths, over_s: f64| Lines {
        kite_by_m: before.map_or(START_BEYOND_CLIP_M, |from| mark.kite_m - from.kite_m),
        main_by_m: before.map_or(mark.main_m - parameters.marker.above_bait_m, |from| {
            mark.main_m - from.main_m
        }),
        over_s,
        kite_line_out_m: mark.kite_m,
        main_line_out_m: mark.main_m,
        nudge_m: nudge_m(rig, conditions, mark.kite_m),
    };
    steps.push(Step {
        lines: Some(lines(None, marks[0], LOOK_S)),
        ..START
    });
    let mut before = marks[0];
    for ((mark, over_s), expected) in marks[1..].iter().zip(&flight.over_s).zip(&flown.expected) {
        steps.push(Step {
            lines: Some(lines(Some(before), *mark, *over_s)),
            expected: Some(*expected),
            ..BOTH
        });
        before = *mark;
    }
    steps.push(Step {
        lines: Some(lines(Some(before), before, LAST_LOOK_S)),
        expected: flown.expected.last().copied(),
        ..TRIM
    });
    Launch {
        day: *day,
        steps,
        highest_bait_m: flown.highest_bait_m,
        takes_s: flown.takes_s,
    }
}

/// Main line that moves the bait half through its band.
fn nudge_m(rig: &Rig, conditions: &Conditions, kite_m: f64) -> f64 {
    let at = Conditions {
        kite_line_out_m: kite_m,
        ..*conditions
    };
    let trim = |immersion| settled_state(rig, &at, MainLine::Immersion(immersion), None);
    match (trim(FROM_IMMERSION), trim(TO_IMMERSION)) {
        (Ok(from), Ok(to)) => {
            (0.5 * (to.main_line_m - from.main_line_m)).clamp(NUDGE_M[0], NUDGE_M[1])
        }
        _ => NUDGE_M[0],
    }
}
