//! How this boat wanders about its course, and the test that tells a turn from it.
//!
//! Learnt on a steady course: the mean square of the change of heading over each of several lags
//! (the structure function, A. N. Kolmogorov 1941). It holds waves, helm, and resolution and pace
//! of the compass alike, so no other number about them is needed.
//!
//! The test is a generalised likelihood ratio (A. S. Willsky, H. L. Jones 1976, *A generalized
//! likelihood ratio approach to the detection and estimation of jumps in linear systems*): of a turn
//! that began one of the lags ago, of whatever size, against wander. With a normal change d of
//! variance V, ln of the ratio is d^2 / 2 V, the greatest over the lags counts, and it must exceed
//! z^2 / 2. The z are for changes that are not normal: see `tests/checks/turn_seen.rs`.

use std::collections::VecDeque;

use crate::angles::DEG;
use crate::time::Millis;

/// Lags in seconds.
const LAGS_S: [f64; 5] = [2.0, 3.0, 5.0, 8.0, 12.0];
/// Moments may be apart from the lag by so much, earlier and later.
const SLACK_S: (f64, f64) = (0.3, 1.5);
/// Mean squares before anything is learnt (invented: a small boat in some sea), square degrees, and
/// how many seconds of learning they are worth.
const PRIOR_DEG2: [f64; 5] = [4.0, 8.0, 16.0, 25.0, 36.0];
const PRIOR_S: f64 = 10.0;
/// Averaging time: sea and helm change.
const MEMORY_S: f64 = 600.0;
/// The newest changes are not learnt for this long, so that a turn does not hide itself.
const GUARD_S: f64 = 12.0;
/// A square counts as so many times its mean at most, because slow turns stay unseen.
const OUTLIER: f64 = 9.0;
/// A longer pause between two moments is a gap.
const GAP_S: f64 = 10.0;
/// Nothing is known of a boat that was watched for less.
const YOUNG_S: f64 = 15.0;
/// Standard deviation that even a boat at rest is given: half a step of a compass in whole degrees.
const LEAST_SD_RAD: f64 = 0.5 * DEG;
/// A bow that comes out of a turn swings by such a share of it about the new course, which dies down
/// in so many seconds. Invented.
const SWING: (f64, f64) = (0.15, 12.0);
/// The course is the mean heading over this time.
const COURSE_S: f64 = 10.0;

/// How much it takes to call a change of heading a turn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Need {
    /// Change as a multiple of its standard deviation by wander.
    pub z: f64,
    /// Least change.
    pub far_rad: f64,
}

/// Out of the blue.
pub(super) const UNEXPECTED: Need = Need {
    z: 4.5,
    far_rad: 4.0 * DEG,
};
/// Crew, instruments or rudder foretell a turn to that side: the odds before any evidence are some
/// hundred times as high, so that ln of the ratio may be less by 5.
pub(super) const FORETOLD: Need = Need {
    z: 3.0,
    far_rad: 2.0 * DEG,
};

/// Heading on a steady course.
#[derive(Debug, Clone)]
pub(super) struct Wander {
    /// (moment, unwrapped heading).
    lately: VecDeque<(Millis, f64)>,
    /// Changes over each lag, not yet learnt.
    pending: VecDeque<(Millis, Changes)>,
    mean_square_rad2: [f64; LAGS_S.len()],
    learnt_until: Option<Millis>,
    learnt_s: f64,
    /// End and size of the last turn.
    swung: Option<(Millis, f64)>,
}

type Changes = [Option<f64>; LAGS_S.len()];

impl Default for Wander {
    fn default() -> Self {
        Self {
            lately: VecDeque::new(),
            pending: VecDeque::new(),
            mean_square_rad2: PRIOR_DEG2.map(|square| square * DEG * DEG),
            learnt_until: None,
            learnt_s: 0.0,
            swung: None,
        }
    }
}

impl Wander {
    /// Only what was learnt.
    pub fn habits(&self) -> Self {
        Self {
            mean_square_rad2: self.mean_square_rad2,
            learnt_s: self.learnt_s,
            ..Self::default()
        }
    }

    /// Takes in one moment of a course without a turn.
    pub fn follow(&mut self, at: Millis, heading_rad: f64) {
        let gap = |(last, _): &(Millis, f64)| at.seconds_since(*last) > GAP_S;
        if self.lately.back().is_some_and(gap) {
            *self = self.habits();
        }
        self.lately.push_back((at, heading_rad));
        let kept_s = LAGS_S[LAGS_S.len() - 1] + COURSE_S;
        while self
            .lately
            .front()
            .is_some_and(|(t, _)| at.seconds_since(*t) > kept_s)
        {
            self.lately.pop_front();
        }
        self.pending.push_back((at, self.changes(at, heading_rad)));
        while let Some((t, changes)) = self.pending.front().copied()
            && at.seconds_since(t) > GUARD_S
        {
            self.pending.pop_front();
            self.learn(t, changes);
        }
    }

    fn changes(&self, at: Millis, heading_rad: f64) -> Changes {
        LAGS_S.map(|lag_s| {
            let old_enough = |(t, _): &&(Millis, f64)| at.seconds_since(*t) >= lag_s - SLACK_S.0;
            let (t, then_rad) = self.lately.iter().rev().find(old_enough)?;
            (at.seconds_since(*t) < lag_s + SLACK_S.1).then(|| heading_rad - then_rad)
        })
    }

    fn learn(&mut self, at: Millis, changes: Changes) {
        let dt_s = self
            .learnt_until
            .map_or(0.0, |until| at.seconds_since(until).clamp(0.0, 2.0));
        self.learnt_until = Some(at);
        self.learnt_s += dt_s;
        let share = (dt_s / self.learnt_s.clamp(PRIOR_S, MEMORY_S)).min(1.0);
        for (mean, change) in self.mean_square_rad2.iter_mut().zip(changes) {
            if let Some(change) = change {
                *mean += share * ((change * change).min(OUTLIER * *mean) - *mean);
            }
        }
    }

    /// The change of heading that is a turn and no wander, if any; `need` by side (+ 1 is
    /// starboard).
    pub fn turn(&self, need: impl Fn(f64) -> Need) -> Option<f64> {
        let &(at, heading_rad) = self.lately.back()?;
        if self.learnt_s < YOUNG_S {
            return None;
        }
        let swing_rad = self.swung.map_or(0.0, |(end, size_rad)| {
            SWING.0 * size_rad * (-at.seconds_since(end) / SWING.1).exp()
        });
        let more_rad2 = swing_rad.powi(2) + LEAST_SD_RAD.powi(2);
        let changes = self.changes(at, heading_rad);
        let mut best: Option<(f64, f64)> = None;
        for (square, change) in self.mean_square_rad2.iter().zip(changes) {
            let Some(change) = change else {
                continue;
            };
            let need = need(change.signum());
            let ratio = change * change / (square + more_rad2) / (need.z * need.z);
            if ratio > 1.0
                && change.abs() > need.far_rad
                && best.is_none_or(|(most, _)| ratio > most)
            {
                best = Some((ratio, change));
            }
        }
        best.map(|(_, change)| change)
    }

    /// The course before that moment.
    pub fn course_rad(&self, before: Millis) -> Option<f64> {
        let (mut sum, mut count) = (0.0, 0.0);
        for (t, heading_rad) in &self.lately {
            if (0.0..=COURSE_S).contains(&before.seconds_since(*t)) {
                sum += heading_rad;
                count += 1.0;
            }
        }
        if count > 0.0 {
            return Some(sum / count);
        }
        self.lately.front().map(|(_, heading_rad)| *heading_rad)
    }

    /// Standard deviation of the rate of turn by wander.
    pub fn rate_sd_rad_s(&self) -> f64 {
        self.mean_square_rad2[0].sqrt() / LAGS_S[0]
    }

    /// A turn has ended at this heading: changes are counted from there.
    pub fn begin_anew(&mut self, at: Millis, heading_rad: f64, turned_rad: f64) {
        *self = Self {
            swung: Some((at, turned_rad.abs())),
            ..self.habits()
        };
        let kept_s = (LAGS_S[LAGS_S.len() - 1] + SLACK_S.1).ceil() as i32;
        for s in (0..=kept_s).rev() {
            let t = at.plus_seconds(-f64::from(s));
            self.lately.push_back((t, heading_rad));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(s: f64) -> Millis {
        Millis(0).plus_seconds(s)
    }

    /// Invented wander: two swings, in whole degrees.
    fn heading_deg(s: f64, size_deg: f64) -> f64 {
        let swing = |period_s: f64| (s * std::f64::consts::TAU / period_s).sin();
        (size_deg * (swing(9.0) + 0.7 * swing(23.0))).round()
    }

    fn watched(size_deg: f64, to_s: u32) -> Wander {
        let mut wander = Wander::default();
        for s in 0..to_s {
            let s = f64::from(s);
            wander.follow(at(s), heading_deg(s, size_deg) * DEG);
            assert_eq!(wander.turn(|_| UNEXPECTED), None, "at {s} s");
        }
        wander
    }

    #[test]
    fn the_same_change_is_a_turn_on_a_quiet_boat_and_none_on_a_restless_one() {
        let change = |size_deg: f64| {
            let mut wander = watched(size_deg, 300);
            let course = heading_deg(299.0, size_deg);
            for s in 1..=4 {
                let s = f64::from(s);
                wander.follow(at(299.0 + s), (course + 2.0 * s) * DEG);
            }
            wander.turn(|_| UNEXPECTED)
        };
        assert!(change(0.5).is_some_and(|rad| rad > 0.0));
        assert_eq!(change(4.0), None);
    }

    #[test]
    fn a_foretold_turn_needs_less_and_only_to_its_side() {
        let mut wander = watched(1.0, 300);
        let course = heading_deg(299.0, 1.0);
        for s in 1..=4 {
            let s = f64::from(s);
            wander.follow(at(299.0 + s), (course + 0.7 * s) * DEG);
        }
        assert_eq!(wander.turn(|_| UNEXPECTED), None);
        let to = |told: f64| wander.turn(|side| if side == told { FORETOLD } else { UNEXPECTED });
        assert!(to(1.0).is_some());
        assert_eq!(to(-1.0), None);
    }

    #[test]
    fn the_swing_after_a_turn_is_none_and_a_later_one_is() {
        let swing = |after_s: f64| {
            let mut wander = watched(0.5, 300);
            wander.begin_anew(at(300.0), 1.0, 1.5);
            let mut s = 301.0;
            while s < 300.0 + after_s {
                wander.follow(at(s), 1.0);
                s += 1.0;
            }
            for i in 1..=3 {
                wander.follow(at(s + f64::from(i)), 1.0 - f64::from(i) * 3.0 * DEG);
            }
            wander.turn(|_| UNEXPECTED).is_some()
        };
        assert!(!swing(3.0));
        assert!(swing(40.0));
    }
}
