//! What a source contradicts by itself.
//!
//! | check | assumes | source |
//! |---|---|---|
//! | range | apparent wind below 35 m/s, log below 15, over ground below 25, turns below 40°/s: nobody flies a kite beyond | common practice, no source |
//! | two senders | one sensor does not go back and forth between two values: far apart, or nearer since it speaks more often than it did | definition |
//! | clock | a receiver's clock advances as the arrival clock does, to half a minute | definition |
//! | variation | the World Magnetic Model is right to 15° below 65° of latitude | NOAA's error model: 0.4° |

use super::suspicion::{Found, Instrument, Verdict};
use super::track::{Said, Track};
use super::view::View;
use super::wind;
use crate::angles::{DEG, wrap_signed};

/// A value beyond the range must stay there for so long, seconds.
const RANGE_S: i64 = 10;
/// Times that a value must go back and forth within so many seconds, and their least share.
const FLIPS: u32 = 6;
const FLIPS_S: i64 = 12;
const FLIPS_SHARE: f64 = 0.15;
/// The wind before is the mean of so many seconds.
const BEFORE_S: i64 = 20;
/// Clocks.
const CLOCK_S: i64 = 20;
const CLOCK_OFF_S: f64 = 15.0;
const DAY_S: f64 = 86_400.0;
/// Variation against the model.
const VARIATION: f64 = 15.0 * DEG;

/// True wind that a wind sensor showed before this lie began.
fn wind_before(view: &View<'_>, track: &Track, lasts_s: i64) -> Option<Said> {
    let until = view.now - lasts_s - 2;
    (track.of == Instrument::Wind)
        .then(|| wind::over_water(view, track, until - BEFORE_S, until))
        .flatten()
}

/// A value that no boat and no sea has.
pub(super) fn range(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - RANGE_S;
    let (Some((low, high)), true) = (track.sizes(from, view.now), track.covers(from, view.now))
    else {
        return Verdict::Untested;
    };
    let (limit, look) = match track.of {
        Instrument::Wind => (
            35.0,
            "look at the wind sensor; with such a wind bring the kite in",
        ),
        Instrument::Log => (15.0, "look at the log"),
        Instrument::GroundSpeed => (25.0, "look at the position receiver"),
        Instrument::RateOfTurn => (40.0 * DEG, "look at the rate sensor"),
        _ => return Verdict::Untested,
    };
    if low.abs().min(high.abs()) > limit && low * high > 0.0 {
        let found = Found::of(
            "shows what no boat like this meets",
            "a value within reason",
            look,
        );
        return Found {
            wind_before: wind_before(view, track, RANGE_S),
            ..found
        }
        .into();
    }
    Verdict::holds_if(low.abs().max(high.abs()) < limit)
}

/// Two senders under one name.
pub(super) fn two_senders(view: &View<'_>, track: &Track) -> Verdict {
    let (readings, flips) = track.flips(view.now - FLIPS_S, view.now);
    let far = flips >= FLIPS && f64::from(flips) >= FLIPS_SHARE * f64::from(readings);
    if far || track.sounds_like_two {
        let found = Found::of(
            "goes back and forth between two values",
            "one sender under one name",
            "look for a second instrument or a program that sends under the same name",
        );
        return Found {
            wind_before: wind_before(view, track, FLIPS_S),
            ..found
        }
        .into();
    }
    Verdict::holds_if(flips == 0 && readings > 3)
}

/// A clock that does not go.
pub(super) fn clock(view: &View<'_>, track: &Track) -> Verdict {
    let from = view.now - CLOCK_S;
    if !track.covers(from, view.now) {
        return Verdict::Untested;
    }
    let mut seconds = track.seconds(from, view.now);
    let Some((began, (_, first))) = seconds.next() else {
        return Verdict::Untested;
    };
    let Some((ended, (_, last))) = seconds.last() else {
        return Verdict::Untested;
    };
    let went = (last - first + 0.5 * DAY_S).rem_euclid(DAY_S) - 0.5 * DAY_S;
    let off_s = went - (ended - began) as f64;
    if off_s.abs() > CLOCK_OFF_S {
        return Found::of(
            "has stood still or jumped",
            "the receiver's clock to go on",
            "look at the position receiver: it may repeat old values",
        )
        .into();
    }
    Verdict::holds_if(off_s.abs() < 3.0)
}

/// The variation that is sent against the model's.
pub(super) fn variation(_view: &View<'_>, track: &Track) -> Verdict {
    let Some((heard, model)) = track.last() else {
        return Verdict::Untested;
    };
    if model.is_nan() {
        return Verdict::Untested;
    }
    if wrap_signed(heard - model).abs() > VARIATION {
        return Found::of(
            "gives a variation that this place does not have",
            "the variation of the chart",
            "correct the variation in the instrument; that of the model is used",
        )
        .into();
    }
    Verdict::Holds
}
