//! Compass, rate of turn and course over ground against each other.
//!
//! | check | assumes | source |
//! |---|---|---|
//! | rate of turn | its integral is the change of the heading, to 30° and a quarter | definition |
//! | heading against course, straight | leeway and current turn the course by no more than 35° and the angle of 1.5 m/s of cross current | invented, from the recorded logs |
//! | heading against course, turning | the course follows within three seconds | common practice, no source |
//! | two compasses | deviation and mounting make no more than 30° between them | common practice, no source |

use super::suspicion::{Found, Instrument, Verdict, about_deg};
use super::track::Track;
use super::view::View;
use crate::angles::{DEG, wrap_signed};

/// Windows over which turns are compared, seconds.
const WINDOWS_S: [i64; 2] = [15, 60];
const TURN_WINDOWS_S: [i64; 2] = [25, 60];
/// Two turns may differ by so much and this share of the larger.
const APART: f64 = 30.0 * DEG;
const SHARE: f64 = 0.3;
/// A straight course is judged over so many seconds.
const STRAIGHT_S: i64 = 20;
/// Leeway, deviation and yawing together.
const LEEWAY: f64 = 35.0 * DEG;
/// Cross current, m/s.
const CURRENT_MPS: f64 = 1.5;
/// Two compasses may differ by this.
const COMPASSES: f64 = 30.0 * DEG;
const COMPASSES_S: i64 = 10;
/// A compass that repeats one value so often, while others see a turn, stands still.
const STILL_READINGS: u32 = 8;

const COMPASS: &str = "look at the compass, its cable and what iron lies near it";

fn differ(a: f64, b: f64) -> bool {
    (a - b).abs() > APART + SHARE * a.abs().max(b.abs())
}

fn agree(a: f64, b: f64) -> bool {
    (a - b).abs() < 10.0 * DEG + 0.2 * a.abs().max(b.abs())
}

fn stands(track: &Track, for_s: i64) -> bool {
    let (same_s, readings) = track.same_angle();
    same_s >= for_s - 3 && readings >= STILL_READINGS
}

/// Whether a third witness takes the part of the heading against the rate of turn.
fn heading_is_right(view: &View<'_>, heading: &Track, from: i64, turned: f64, rate: f64) -> bool {
    let [_, course, other] = view.turned_by_others(heading, from);
    match course.or(other) {
        Some(third) => (third - turned).abs() < (third - rate).abs(),
        None => !stands(heading, view.now - from),
    }
}

/// A rate of turn and a heading, compared.
enum Compared {
    /// They show different turns: by the rate, by the heading, and whether the heading is right.
    Apart {
        rate: f64,
        turned: f64,
        heading_is_right: bool,
    },
    Agree,
    Untold,
}

fn compared(view: &View<'_>, sent: &Track, heading: &Track) -> Compared {
    let mut found = Compared::Untold;
    for window_s in WINDOWS_S {
        let from = view.now - window_s;
        let (Some(rate), Some(turned)) = (
            sent.integral(from, view.now),
            heading.turned(from, view.now),
        ) else {
            continue;
        };
        if differ(rate, turned) {
            return Compared::Apart {
                rate,
                turned,
                heading_is_right: heading_is_right(view, heading, from, turned, rate),
            };
        }
        if agree(rate, turned) {
            found = Compared::Agree;
        }
    }
    found
}

/// The rate of turn against the heading.
pub(super) fn rate_of_turn(view: &View<'_>, track: &Track) -> Verdict {
    let Some(heading) = view.witness(Instrument::Heading) else {
        return Verdict::Untested;
    };
    match compared(view, track, heading) {
        Compared::Apart {
            rate,
            turned,
            heading_is_right: true,
        } => Found::of(
            format!(
                "adds up to a turn of {} where the compass shows {}",
                about_deg(rate),
                about_deg(turned)
            ),
            "rate of turn and heading to change together",
            "look at the rate sensor; the rate of turn is taken from the headings",
        )
        .into(),
        Compared::Agree => Verdict::Holds,
        Compared::Apart { .. } | Compared::Untold => Verdict::Untested,
    }
}

/// The heading against the rate of turn.
pub(super) fn heading_by_rate(view: &View<'_>, track: &Track) -> Verdict {
    let Some(sent) = view.witness(Instrument::RateOfTurn) else {
        return Verdict::Untested;
    };
    match compared(view, sent, track) {
        Compared::Apart {
            rate,
            turned,
            heading_is_right: false,
        } => Found::of(
            format!(
                "has turned by {} where the rate of turn adds up to {}",
                about_deg(turned),
                about_deg(rate)
            ),
            "rate of turn and heading to change together",
            COMPASS,
        )
        .into(),
        Compared::Agree => Verdict::Holds,
        Compared::Apart { .. } | Compared::Untold => Verdict::Untested,
    }
}

/// A turn that the heading shows and the course does not, or the other way round: heading and
/// course, and the third witness if there is one.
fn turn_apart(view: &View<'_>, heading: &Track) -> Option<(f64, f64, bool)> {
    TURN_WINDOWS_S.into_iter().find_map(|window_s| {
        let from = view.now - window_s;
        let course = view.course_under_way(from)?;
        let (turned, swung) = (
            heading.turned(from, view.now)?,
            course.turned(from, view.now)?,
        );
        if !differ(turned, swung) {
            return None;
        }
        let [rate, _, other] = view.turned_by_others(heading, from);
        let course_lies = match rate.or(other) {
            Some(third) => (third - turned).abs() < (third - swung).abs(),
            None => stands(course, window_s),
        };
        Some((turned, swung, course_lies))
    })
}

/// The heading against the course over ground.
pub(super) fn heading_by_course(view: &View<'_>, track: &Track) -> Verdict {
    if let Some((turned, swung, course_lies)) = turn_apart(view, track) {
        if course_lies {
            return Verdict::Untested;
        }
        return Found::of(
            format!(
                "has turned by {} where the course over ground has turned by {}",
                about_deg(turned),
                about_deg(swung)
            ),
            "the course to follow the bow",
            COMPASS,
        )
        .into();
    }
    let from = view.now - STRAIGHT_S;
    let Some(off) = view.off_course(track, from) else {
        return Verdict::Untested;
    };
    let speed = view
        .witness(Instrument::GroundSpeed)
        .and_then(|speed| speed.mean_size(from, view.now))
        .unwrap_or(0.0);
    let current = (CURRENT_MPS / speed.max(CURRENT_MPS)).asin();
    // A course that repeats itself is no witness.
    if view
        .witness(Instrument::Course)
        .is_none_or(|course| stands(course, STRAIGHT_S))
    {
        return Verdict::Untested;
    }
    if off.abs() > LEEWAY + current {
        return Found::of(
            format!("lies {} off the course over ground", about_deg(off)),
            "no more than leeway and current between bow and course",
            COMPASS,
        )
        .into();
    }
    Verdict::holds_if(off.abs() < 25.0 * DEG)
}

/// The course over ground against a turn of the compass.
pub(super) fn course(view: &View<'_>, track: &Track) -> Verdict {
    let Some(heading) = view.witness(Instrument::Heading) else {
        return Verdict::Untested;
    };
    match turn_apart(view, heading) {
        Some((turned, swung, true)) => Found::of(
            format!(
                "has turned by {} where the compass has turned by {}",
                about_deg(swung),
                about_deg(turned)
            ),
            "the course to follow the bow",
            "look at the position receiver and its aerial",
        )
        .into(),
        Some(_) => Verdict::Untested,
        None => match view.off_course(heading, view.now - STRAIGHT_S) {
            Some(off) if stands(track, STRAIGHT_S) && off.abs() > 2.0 * LEEWAY => Found::of(
                format!("stands still, {} off the bow", about_deg(off)),
                "the course to follow the bow",
                "look at the position receiver and its aerial",
            )
            .into(),
            Some(off) if off.abs() < 25.0 * DEG && !stands(track, STRAIGHT_S) => Verdict::Holds,
            _ => Verdict::Untested,
        },
    }
}

/// One compass against the others.
pub(super) fn compasses(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - COMPASSES_S;
    let mean = |track: &Track| {
        let covered = track.covers(from, view.now);
        track.mean_angle(from, view.now).filter(|_| covered)
    };
    let Some(own) = mean(track) else {
        return Verdict::Untested;
    };
    let mut verdict = Verdict::Untested;
    for other in view.others(track) {
        let Some(theirs) = mean(other) else {
            continue;
        };
        let apart = wrap_signed(own - theirs);
        if apart.abs() <= COMPASSES {
            verdict = Verdict::Holds;
            continue;
        }
        // The course takes a part where the boat has way on and both are not turning.
        let off = |track| view.off_course(track, from).map(f64::abs);
        let farther = match (off(track), off(other)) {
            (Some(own), Some(theirs)) if (own - theirs).abs() > 0.6 * apart.abs() => {
                Some(own > theirs)
            }
            _ => None,
        };
        if farther == Some(false) {
            continue;
        }
        return Found {
            at_fault: farther.is_some(),
            ..Found::of(
                format!("lies {} off another compass", about_deg(apart)),
                "compasses to agree",
                "compare both with the steering compass, and ignore the wrong one",
            )
        }
        .into();
    }
    verdict
}
