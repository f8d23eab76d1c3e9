//! Log, speed over ground and position against each other.
//!
//! | check | assumes | source |
//! |---|---|---|
//! | log low | a boat whose course follows its bow at 2 m/s and more goes through the water | definition |
//! | log high | no current stops a boat that makes 2 m/s for half a minute | common practice, no source |
//! | log or ground jumped | the current along the keel changes by less than 1.3 m/s and a third of the speed within a minute on a straight course | invented, from the recorded logs |
//! | position | it moves as far as the speed over ground adds up to, to a third | definition |

use super::suspicion::{Found, Instrument, Verdict};
use super::track::{Said, Track};
use super::view::{View, WAY_MPS};
use crate::angles::DEG;
use crate::geodesy::Position;

/// Speeds are compared over so many seconds.
const WINDOW_S: i64 = 20;
/// A log below this share of the speed over ground does not turn.
const LOW_SHARE: f64 = 0.25;
/// A boat slower than this over ground lies still, m/s.
const LIES_STILL_MPS: f64 = 0.5;
/// A log above this shows way, m/s.
const SHOWS_WAY_MPS: f64 = 1.7;
/// How much the current along the keel may change, m/s and as a share of the speed.
const CURRENT_MPS: f64 = 1.3;
const CURRENT_SHARE: f64 = 0.35;
/// Times from the present back to the speeds that it is compared with, seconds.
const EARLIER_S: [i64; 2] = [20, 75];
/// So long the present and the earlier speed are averaged.
const MEAN_S: i64 = 10;
/// A position that has moved by less than this share of the way has stopped.
const STOPPED_SHARE: f64 = 0.3;
/// The way must be longer than this, m.
const LEAST_WAY_M: f64 = 30.0;
/// A place further off than twice the way and this, m, is a jump.
const JUMP_M: f64 = 60.0;
/// A log that repeats itself so long, in so many readings, while the other varies by so much, is stuck.
const STILL_S: i64 = 45;
const STILL_READINGS: u32 = 20;
const STILL_VARIES_MPS: f64 = 0.8;

const LOG: &str = "look for weed on the log's wheel; the speed over ground is used";
const RECEIVER: &str = "look at the position receiver and its aerial";

/// The log against speed and course over ground.
pub(super) fn log_low(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - WINDOW_S;
    let (Some(log), Some(ground)) = (
        track
            .mean_size(from, view.now)
            .filter(|_| track.covers(from, view.now)),
        view.witness(Instrument::GroundSpeed)
            .and_then(|speed| speed.sizes(from, view.now)),
    ) else {
        return Verdict::Untested;
    };
    if ground.0 < WAY_MPS {
        return Verdict::Untested;
    }
    let (_, highest) = track.sizes(from, view.now).unwrap_or_default();
    if highest < LOW_SHARE * ground.0 {
        // A boat that drifts with the stream has no reason to point along it.
        let along = view.witness(Instrument::Heading).is_none_or(|heading| {
            view.off_course(heading, from)
                .is_some_and(|off| off.abs() < 25.0 * DEG)
        });
        return if along {
            Found::of(
                "hardly turns while the boat makes way over the ground",
                "log and speed over ground to differ by the current only",
                LOG,
            )
            .into()
        } else {
            Verdict::Untested
        };
    }
    Verdict::holds_if(log > 0.5 * ground.0)
}

/// The log of a boat that lies still.
pub(super) fn log_high(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - WINDOW_S;
    let (Some((least, _)), Some(speed)) = (
        track
            .sizes(from, view.now)
            .filter(|_| track.covers(from, view.now)),
        view.witness(Instrument::GroundSpeed),
    ) else {
        return Verdict::Untested;
    };
    let Some((_, fastest)) = speed.sizes(from, view.now) else {
        return Verdict::Untested;
    };
    if fastest > LIES_STILL_MPS {
        return Verdict::holds_if(fastest > WAY_MPS && speed.covers(from, view.now));
    }
    if least < SHOWS_WAY_MPS {
        return Verdict::holds_if(least < LIES_STILL_MPS);
    }
    // A receiver that repeats itself is no witness.
    let place_lives = view
        .witness(Instrument::Position)
        .is_none_or(|place| place.same_both().0 < WINDOW_S);
    if place_lives || speed.same_both().0 < WINDOW_S {
        Found::of(
            "shows way on while the boat lies still over the ground",
            "log and speed over ground to differ by the current only",
            "look at the log and at the position receiver",
        )
        .into()
    } else {
        Verdict::Untested
    }
}

/// What a current that sets in within seconds is made of: the changes of log and speed over ground
/// along the keel.
fn current_jump(view: &View<'_>, log: &Track, ground: &Track) -> Option<(f64, f64)> {
    let heading = view.witness(Instrument::Heading)?;
    EARLIER_S.into_iter().find_map(|back_s| {
        let (late, early) = (view.now - MEAN_S, view.now - back_s);
        let first = early - MEAN_S;
        if !log.covers(first, view.now) || !ground.covers(first, view.now) {
            return None;
        }
        if heading.turned(first, view.now)?.abs() > 20.0 * DEG {
            return None;
        }
        let off = view.off_course(heading, first)?;
        if off.abs() > 25.0 * DEG {
            return None;
        }
        let change =
            |track: &Track| Some(track.mean_size(late, view.now)? - track.mean_size(first, early)?);
        let (log_by, ground_by) = (change(log)?, change(ground)? * off.cos());
        let speed = ground.mean_size(first, view.now)?;
        let limit = CURRENT_MPS.max(CURRENT_SHARE * speed);
        ((log_by - ground_by).abs() > limit).then_some((log_by, ground_by))
    })
}

/// A log that changes within seconds when the speed over ground does not.
pub(super) fn log_jumped(view: &View<'_>, track: &Track) -> Verdict {
    let Some(ground) = view.witness(Instrument::GroundSpeed) else {
        return Verdict::Untested;
    };
    match current_jump(view, track, ground) {
        Some((log, ground)) if log.abs() > ground.abs() => Found::of(
            "has changed while the speed over ground has not",
            "the current to change slowly",
            LOG,
        )
        .into(),
        _ => Verdict::Untested,
    }
}

/// A speed over ground that changes within seconds when the log does not.
pub(super) fn ground_jumped(view: &View<'_>, track: &Track) -> Verdict {
    let Some(log) = view.witness(Instrument::Log) else {
        return Verdict::Untested;
    };
    match current_jump(view, log, track) {
        Some((log, ground)) if ground.abs() >= log.abs() => Found::of(
            "has changed while the log has not",
            "the current to change slowly",
            RECEIVER,
        )
        .into(),
        _ => Verdict::Untested,
    }
}

/// Metres between two places; `None` where none is.
fn metres(from: Said, to: Said) -> Option<f64> {
    let place = |(latitude, longitude): Said| Position {
        latitude_deg: latitude.to_degrees(),
        longitude_deg: longitude.to_degrees(),
    };
    let way = place(from).way_to(place(to)).ok()?;
    Some(way.range_m())
}

/// How far the boat has gone by position, speed over ground and log since `from`.
struct Gone {
    by_position_m: f64,
    by_ground_m: Option<f64>,
    by_log_m: Option<f64>,
}

/// `None` with gaps, or where the boat turns on the spot.
fn gone(view: &View<'_>, position: &Track, ground: Option<&Track>, from: i64) -> Option<Gone> {
    if !position.covers(from, view.now) {
        return None;
    }
    let circles = [Instrument::Heading, Instrument::Course]
        .into_iter()
        .filter_map(|of| view.witness(of)?.turned(from, view.now))
        .any(|turned| turned.abs() > 90.0 * DEG);
    if circles {
        return None;
    }
    let (first, last) = position.ends(from, view.now)?;
    Some(Gone {
        by_position_m: metres(first, last)?,
        by_ground_m: ground.and_then(|speed| speed.integral(from, view.now)),
        by_log_m: view
            .witness(Instrument::Log)
            .and_then(|log| log.integral(from, view.now)),
    })
}

/// The position against speed over ground and log: it stands.
pub(super) fn position_still(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - WINDOW_S;
    let ground = view.witness(Instrument::GroundSpeed);
    let Some(gone) = gone(view, track, ground, from) else {
        return Verdict::Untested;
    };
    let stands = |way: f64| way > LEAST_WAY_M && gone.by_position_m < STOPPED_SHARE * way;
    // A log alone does not tell a boat that stems a stream from one that goes.
    let lies = match (gone.by_ground_m, gone.by_log_m) {
        (Some(ground), Some(log)) => stands(ground) && log > STOPPED_SHARE * ground,
        (Some(ground), None) => stands(ground),
        (None, Some(log)) => stands(log) && gone.by_position_m == 0.0,
        (None, None) => false,
    };
    if lies {
        return Found::of(
            "stands still while the boat makes way",
            "the position to move as the speed says",
            RECEIVER,
        )
        .into();
    }
    fits(&gone)
}

/// The position against speed over ground and log: it jumps.
pub(super) fn position_jumped(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - WINDOW_S;
    let ground = view.witness(Instrument::GroundSpeed);
    let Some(gone) = gone(view, track, ground, from) else {
        return Verdict::Untested;
    };
    let ways = [gone.by_ground_m, gone.by_log_m];
    let Some(way) = ways.into_iter().flatten().reduce(f64::max) else {
        return Verdict::Untested;
    };
    if gone.by_position_m > 2.0 * way.max(0.0) + JUMP_M {
        return Found::of(
            "has moved further than the boat can have gone",
            "the position to move as the speed says",
            RECEIVER,
        )
        .into();
    }
    fits(&gone)
}

fn fits(gone: &Gone) -> Verdict {
    match gone.by_ground_m.or(gone.by_log_m) {
        Some(way) if (gone.by_position_m - way).abs() < 0.5 * way + 10.0 => Verdict::Holds,
        _ => Verdict::Untested,
    }
}

/// The speed over ground against position and log.
pub(super) fn ground_by_position(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - WINDOW_S;
    let Some(gone) = view
        .witness(Instrument::Position)
        .and_then(|position| gone(view, position, Some(track), from))
    else {
        return Verdict::Untested;
    };
    let Some(way) = gone.by_ground_m else {
        return Verdict::Untested;
    };
    let off = (gone.by_position_m - way).abs();
    let apart = off > LEAST_WAY_M && off > 0.6 * gone.by_position_m.max(way);
    if !apart {
        return fits(&gone);
    }
    // With the log on its side the position holds.
    let position_holds = gone
        .by_log_m
        .is_some_and(|log| (gone.by_position_m - log).abs() < 0.4 * log.max(gone.by_position_m));
    if !position_holds {
        return Verdict::Untested;
    }
    Found::of(
        "does not fit the way that the position shows",
        "the position to move as the speed says",
        RECEIVER,
    )
    .into()
}

/// A speed or a course that repeats itself while the position of its receiver stands.
pub(super) fn ground_still(view: &View<'_>, track: &Track) -> Verdict {
    let (same_s, _) = track.same_both();
    if same_s < 5 {
        return Verdict::Holds;
    }
    let from = view.now - WINDOW_S;
    let way = [Instrument::Log, Instrument::GroundSpeed]
        .into_iter()
        .find_map(|of| view.live(of).next()?.mean_size(from, view.now));
    let stands = |position: &Track| {
        position.sender == track.sender && position.same_both().0 >= WINDOW_S - 3
    };
    if same_s >= WINDOW_S - 3
        && way.is_some_and(|way| way > SHOWS_WAY_MPS)
        && view.live(Instrument::Position).any(stands)
    {
        return Found::of(
            "repeats itself, and its position stands still",
            "the receiver to go on measuring",
            RECEIVER,
        )
        .into();
    }
    Verdict::Untested
}

/// A log that repeats one value while the speed over ground varies.
pub(super) fn log_still(view: &View<'_>, track: &Track) -> Verdict {
    let (same_s, readings) = track.same_both();
    if same_s < 10 {
        return Verdict::Holds;
    }
    let from = view.now - STILL_S;
    let varies = view
        .witness(Instrument::GroundSpeed)
        .and_then(|speed| speed.sizes(from, view.now))
        .is_some_and(|(low, high)| high - low > STILL_VARIES_MPS);
    let moves = track
        .last()
        .is_some_and(|(_, mps)| mps.abs() > LIES_STILL_MPS);
    if same_s >= STILL_S && readings >= STILL_READINGS && varies && moves {
        return Found::of(
            "shows one and the same speed while the speed over ground varies",
            "log and speed over ground to vary together",
            LOG,
        )
        .into();
    }
    Verdict::Untested
}
