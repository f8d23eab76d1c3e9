//! The wind sensor against the boat's own turns and against another sensor.
//!
//! | check | assumes | source |
//! |---|---|---|
//! | wind through a turn | the true wind before a turn of 20 to 40 s still blows after it, to 37° | direction changes of recorded boats: 18° in 30 s at the 90th percentile |
//! | vane jumped | no wind of some strength goes round by 60° in 3 s, or 100° in 30 s, with its speed as before | invented, from the same records |
//! | vane still | a vane under way never shows one and the same angle for 90 s while the speed varies | recorded logs: see the tests |
//! | two sensors | two sensors differ by no more than 40°, and by no more than 1.7 in speed | common practice, no source |

use super::suspicion::{Found, Instrument, Verdict, about_deg};
use super::track::{Said, Track};
use super::view::View;
use crate::angles::{DEG, wrap_signed};

/// Windows in which a turn is looked for, seconds, and the time before it that gives the true wind.
const TURNS_S: [i64; 2] = [20, 40];
const BEFORE_S: i64 = 15;
/// The present is the mean of so many seconds more.
const PRESENT_S: i64 = 3;
/// A turn smaller than this tells nothing.
const LEAST_TURN: f64 = 30.0 * DEG;
/// So far the vane must have to go round.
const LEAST_SWING: f64 = 50.0 * DEG;
/// A vane that has gone less than this share of it lies, one that has gone more than that holds.
const LIES_BELOW: f64 = 0.25;
const HOLDS: std::ops::Range<f64> = 0.5..1.6;
/// Lighter winds have no direction, m/s.
const LEAST_WIND_MPS: f64 = 3.0;
/// A wind off by this share of itself, and so many m/s, does not belong to this boat.
const OFF_SHARE: f64 = 0.9;
const OFF_MPS: f64 = 4.5;
/// Two sensors.
const SENSORS: f64 = 40.0 * DEG;
const SENSORS_RATIO: f64 = 1.7;
const SENSORS_S: i64 = 15;
/// A vane that repeats an angle for so long, so often, with the speed varying by so much, is stuck.
const STILL_S: i64 = 90;
const STILL_READINGS: u32 = 45;
const STILL_SPEED_MPS: f64 = 0.6;

const MASTHEAD: &str = "look up: does the vane swing freely?";

/// East and north.
type Flat = [f64; 2];

/// From where it blows and how fast, as a vector of the air.
fn air(from: f64, speed: f64) -> Flat {
    [-speed * from.sin(), -speed * from.cos()]
}

fn from_and_speed(air: Flat) -> Said {
    ((-air[0]).atan2(-air[1]), air[0].hypot(air[1]))
}

/// The wind as the boat has felt and made it in a while.
struct Felt {
    /// Apparent, about the bow.
    apparent: Flat,
    /// Over the water, about north; speeds along the heading.
    over_water: Flat,
}

fn felt(view: &View<'_>, vane: &Track, heading: &Track, from: i64, to: i64) -> Option<Felt> {
    let speed = view.speed(from, to)?;
    let (mut apparent, mut over_water, mut count) = ([0.0; 2], [0.0; 2], 0.0);
    for (second, (angle, size)) in vane.seconds(from, to) {
        let Some(bow) = heading.mean_angle(second - 1, second) else {
            continue;
        };
        let (about_bow, about_north) = (air(angle, size), air(angle + bow, size));
        let way = [speed * bow.sin(), speed * bow.cos()];
        for i in 0..2 {
            apparent[i] += about_bow[i];
            over_water[i] += about_north[i] + way[i];
        }
        count += 1.0;
    }
    (count >= 2.0).then(|| Felt {
        apparent: apparent.map(|x| x / count),
        over_water: over_water.map(|x| x / count),
    })
}

/// True wind in a while: where it came from and its speed.
pub(super) fn over_water(view: &View<'_>, vane: &Track, from: i64, to: i64) -> Option<Said> {
    let heading = view.witness(Instrument::Heading)?;
    felt(view, vane, heading, from, to).map(|felt| from_and_speed(felt.over_water))
}

/// The apparent wind through a turn of the boat.
pub(super) fn through_turn(view: &View<'_>, track: &Track) -> Verdict {
    let Some(heading) = view.witness(Instrument::Heading) else {
        return Verdict::Untested;
    };
    let mut verdict = Verdict::Untested;
    for window_s in TURNS_S {
        let from = view.now - window_s;
        match one_turn(view, track, heading, from) {
            Some(lies @ Verdict::Lies(_)) => return lies,
            Some(Verdict::Holds) => verdict = Verdict::Holds,
            _ => {}
        }
    }
    verdict
}

/// Whether the boat has really turned so: by every other witness there is; by the compass alone only
/// if it has not jumped.
fn is_turn(view: &View<'_>, heading: &Track, from: i64, turned: f64) -> bool {
    let mut witnesses = view
        .turned_by_others(heading, from)
        .into_iter()
        .flatten()
        .peekable();
    if witnesses.peek().is_none() {
        return heading.largest_step(from, view.now) < 20.0 * DEG;
    }
    witnesses.all(|other| (other - turned).abs() < 10.0 * DEG + 0.25 * turned.abs())
}

fn one_turn(view: &View<'_>, vane: &Track, heading: &Track, from: i64) -> Option<Verdict> {
    let turned = heading.turned(from, view.now)?;
    if turned.abs() < LEAST_TURN || !vane.covers(from - BEFORE_S, view.now) {
        return None;
    }
    let present = view.now - PRESENT_S;
    let before = felt(view, vane, heading, from - BEFORE_S, from)?;
    let now = felt(view, vane, heading, present, view.now)?;
    let bow = heading.mean_angle(present, view.now)?;
    let speed = view.speed(present, view.now)?;
    // The same true wind, felt on this heading at this speed, about the bow.
    let (from_north, blows) = from_and_speed([
        before.over_water[0] - speed * bow.sin(),
        before.over_water[1] - speed * bow.cos(),
    ]);
    let expected = air(from_north - bow, blows);
    let (angle_then, speed_then) = from_and_speed(before.apparent);
    let (angle_now, speed_now) = from_and_speed(now.apparent);
    let swing = wrap_signed(from_north - bow - angle_then);
    if blows < LEAST_WIND_MPS || speed_then < LEAST_WIND_MPS {
        return None;
    }
    let off_mps = (now.apparent[0] - expected[0]).hypot(now.apparent[1] - expected[1]);
    let off = off_mps / blows.max(speed_then);
    let share = wrap_signed(angle_now - angle_then) / swing;
    let swings = swing.abs() > LEAST_SWING;
    let wrong_way = swings && share < LIES_BELOW && speed_now > 0.5 * LEAST_WIND_MPS;
    // A lull is no lie.
    let foreign = off > OFF_SHARE && off_mps > OFF_MPS && speed_now > LEAST_WIND_MPS;
    if !(wrong_way || foreign) {
        let holds = swing.abs() > LEAST_TURN && HOLDS.contains(&share) && off < 0.5;
        return Some(Verdict::holds_if(holds));
    }
    if !is_turn(view, heading, from, turned) {
        return None;
    }
    let seen = if !wrong_way {
        format!(
            "shows a wind that does not fit a turn of {}",
            about_deg(turned)
        )
    } else if share < -LIES_BELOW {
        format!("has moved the wrong way in a turn of {}", about_deg(turned))
    } else {
        format!("has hardly moved through a turn of {}", about_deg(turned))
    };
    Some(
        Found {
            wind_before: Some(from_and_speed(before.over_water)),
            ..Found::of(
                seen,
                "the wind to stay where it was while the boat turns",
                MASTHEAD,
            )
        }
        .into(),
    )
}

/// A vane that goes round while the boat holds its course.
pub(super) fn jumped(view: &View<'_>, track: &Track) -> Verdict {
    let Some(heading) = view.witness(Instrument::Heading) else {
        return Verdict::Untested;
    };
    if through_turn(view, track) == Verdict::Holds {
        return Verdict::Holds;
    }
    for (apart_s, limit) in [(3, 60.0 * DEG), (30, 100.0 * DEG)] {
        let (late, early) = (view.now - 9, view.now - 9 - apart_s);
        let first = early - 9;
        if !track.covers(first, view.now)
            || heading
                .turned(first, view.now)
                .is_none_or(|turned| turned.abs() > 15.0 * DEG)
        {
            continue;
        }
        let (Some(then), Some(now)) = (
            felt(view, track, heading, first, early),
            felt(view, track, heading, late, view.now),
        ) else {
            continue;
        };
        let ((angle_then, speed_then), (angle_now, speed_now)) =
            (from_and_speed(then.apparent), from_and_speed(now.apparent));
        let gone = wrap_signed(angle_now - angle_then);
        let like = speed_now > 0.6 * speed_then && speed_then > 0.6 * speed_now;
        if gone.abs() > limit && like && speed_then.min(speed_now) > LEAST_WIND_MPS {
            return Found {
                at_fault: false,
                wind_before: Some(from_and_speed(then.over_water)),
                ..Found::of(
                    format!("has gone round by {} on a straight course", about_deg(gone)),
                    "the wind to shift more slowly",
                    "look up: a squall, or the vane?",
                )
            }
            .into();
        }
    }
    Verdict::Untested
}

/// A vane that shows one angle while the speed varies.
pub(super) fn still(view: &View<'_>, track: &Track) -> Verdict {
    let (same_s, readings) = track.same_angle();
    if same_s < 10 {
        return Verdict::Holds;
    }
    let from = view.now - STILL_S;
    let varies = track
        .sizes(from, view.now)
        .is_some_and(|(low, high)| high - low > STILL_SPEED_MPS && low > 1.0);
    let moves = view.speed(from, view.now).is_some_and(|speed| speed > 1.0);
    if same_s >= STILL_S && readings >= STILL_READINGS && varies && moves {
        return Found::of(
            "shows one and the same angle while the boat moves",
            "a vane never to stand quite still",
            MASTHEAD,
        )
        .into();
    }
    Verdict::Untested
}

/// One wind sensor against the others.
pub(super) fn sensors(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - SENSORS_S;
    let mean = |track: &Track| {
        let covered = track.covers(from, view.now);
        let said = (
            track.mean_angle(from, view.now)?,
            track.mean_size(from, view.now)?,
        );
        covered.then_some(said)
    };
    let Some(own) = mean(track) else {
        return Verdict::Untested;
    };
    let mut verdict = Verdict::Untested;
    for theirs in view.others(track).filter_map(mean) {
        let angle = wrap_signed(own.0 - theirs.0);
        let (less, more) = (own.1.min(theirs.1), own.1.max(theirs.1));
        let apart = angle.abs() > SENSORS && less > LEAST_WIND_MPS;
        if !apart && (more < 5.0 || more < SENSORS_RATIO * less) {
            verdict = Verdict::Holds;
            continue;
        }
        return Found {
            at_fault: false,
            ..Found::of(
                if apart {
                    format!("lies {} off another wind sensor", about_deg(angle))
                } else {
                    String::from("shows another wind speed than a second sensor")
                },
                "wind sensors to agree",
                "look up, and ignore the wrong one",
            )
        }
        .into();
    }
    verdict
}
