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

const DEG: f64 = std::f64::consts::PI / 180.0;
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
const EARTH_M: f64 = 6_371_000.0;

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
        let along = view
            .witness(Instrument::Heading)
            .is_none_or(|heading| {
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
    if log > 0.5 * ground.0 {
        Verdict::Holds
    } else {
        Verdict::Untested
    }
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
        let holds = fastest > WAY_MPS && speed.covers(from, view.now);
        return if holds {
            Verdict::Holds
        } else {
            Verdict::Untested
        };
    }
    if least < SHOWS_WAY_MPS {
        return if least < LIES_STILL_MPS {
            Verdict::Holds
        } else {
            Verdict::Untested
        };
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
        let change = |track: &Track| {
            Some(track.mean_size(late, view.now)? - track.mean_size(first, early)?)
        };
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

/// Metres between two places not far from each other.
fn metres(from: Said, to: Said) -> f64 {
    let north = (to.0 - from.0) * EARTH_M;
    let east = crate::angles::wrap_signed(to.1 - from.1) * from.0.cos() * EARTH_M;
    north.hypot(east)
}

/// The position against the speed over ground, or the log.
pub(super) fn position(view: &View<'_>, track: &Track, jumped: bool) -> Verdict {
    let from = view.now - WINDOW_S;
    if !track.covers(from, view.now) {
        return Verdict::Untested;
    }
    let way = [Instrument::GroundSpeed, Instrument::Log]
        .into_iter()
        .find_map(|of| view.witness(of)?.integral(from, view.now));
    let (Some((first, last)), Some(way)) = (track.ends(from, view.now), way) else {
        return Verdict::Untested;
    };
    let gone = metres(first, last);
    let lies = if jumped {
        gone > 2.0 * way.abs() + JUMP_M
    } else {
        way > LEAST_WAY_M && gone < STOPPED_SHARE * way
    };
    if !lies {
        return if gone > 0.5 * way && gone < 1.5 * way + 10.0 {
            Verdict::Holds
        } else {
            Verdict::Untested
        };
    }
    if jumped {
        Found::of(
            "has moved further than the boat can have gone",
            "the position to move as the speed says",
            RECEIVER,
        )
        .into()
    } else if gone > 0.0 && view.witness(Instrument::GroundSpeed).is_none() {
        // A boat that sails a small circle, or stems a stream.
        Verdict::Untested
    } else {
        still(view, from)
    }
}

/// A boat that turns on the spot goes nowhere either.
fn still(view: &View<'_>, from: i64) -> Verdict {
    let circles = [Instrument::Heading, Instrument::Course]
        .into_iter()
        .filter_map(|of| view.witness(of)?.turned(from, view.now))
        .any(|turned| turned.abs() > 90.0 * DEG);
    if circles {
        return Verdict::Untested;
    }
    Found::of(
        "stands still while the boat makes way",
        "the position to move as the speed says",
        RECEIVER,
    )
    .into()
}
