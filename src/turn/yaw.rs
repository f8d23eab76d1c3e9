//! The boat's own yaw: whether it turns now, and how quickly it answers the helm.
//!
//! A turn is a change of heading that this boat's wander does not explain (see [`super::wander`])
//! *and* a rate of the same sign. Less is needed when crew or instruments have foretold it, or when
//! the helm is held over and K is known (see [`super::helm`]). K delta is the final rate of the turn.
//! Without a rudder the final rate is extrapolated from the rate so far, and T is fitted to the decay
//! of the rate at the end of every turn (r falls as e^(-t/T) once the helm is back). T is
//! proportional to 1 / speed.

use std::collections::VecDeque;

use super::TurnSettings;
use super::helm::{BowNow, HelmWatch, SPAN_S};
use super::sizes::{Quantiles, Sizes, SoFar};
use super::wander::{FORETOLD, Need, UNEXPECTED, Wander};
use crate::angles::wrap_signed;
use crate::time::Millis;
use crate::vessel::VesselNow;

/// Averaging time of the noise of each rate source on a straight course.
const SHAKE_S: f64 = 30.0;
/// Hysteresis, as shares of the turn's rate: the turn is ending below the first, or below the
/// second for some time, and resumes above the third.
const ENDING: [f64; 3] = [0.5, 0.7, 0.85];
const ENDING_S: f64 = 0.9;
/// Plausible range of T for boats of this kind.
const TIME_CONSTANT_RANGE_S: (f64, f64) = (0.4, 12.0);
/// A helm over for so long is held, not a correction.
const HELD_S: f64 = 1.5;
/// Speed until one is known, typical with a kite out (invented), and the least speed used.
const SPEED_MPS: (f64, f64) = (3.0, 0.5);

/// Time since helm over as a multiple of change / rate: 2 as the rate builds up, 1 once it is steady.
const SINCE: f64 = 1.5;
/// A heading older than the rate is brought forward by so much at most.
const FORWARD_S: f64 = 1.0;
/// A rate that is older than the heading by more than this was worked out from headings.
const SENSED_S: f64 = 0.5;
/// The bow that turns at r comes to rest r T further on with the helm amidships. With a rate sensor a
/// turn is sought in that heading, which shows it sooner; with this for T, tuned.
const LEAD_S: f64 = 1.5;

/// A turn under way.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turning {
    /// Estimated moment the helm went over.
    pub begun: Millis,
    /// Heading (unwrapped) before it.
    pub from_rad: f64,
    /// Turned so far, signed.
    pub turned_rad: f64,
    /// Greatest rate so far, positive.
    pub peak_rad_s: f64,
    /// The helm seems to be back: only the decay of the present rate is left.
    pub ending: bool,
}

/// Watches heading, rate and rudder.
#[derive(Debug, Clone, Default)]
pub(super) struct YawWatch {
    wander: Wander,
    /// Heading as last read, unwrapped.
    read_rad: Option<f64>,
    /// Unwrapped heading now.
    pub heading_rad: f64,
    /// The same, or with a rate sensor where the bow would come to rest.
    resting_rad: f64,
    /// Rate now, + to starboard.
    pub rate_rad_s: f64,
    reading: RateReading,
    /// Turn under way.
    pub turning: Option<Turning>,
    slow_since: Option<Millis>,
    slack_since: Option<Millis>,
    tail: Vec<(f64, f64)>,
    /// T times speed.
    tail_fit_m: Option<f64>,
    helm: HelmWatch,
    /// Through the water, else over ground; as last known.
    speed_mps: Option<f64>,
    sizes: Sizes,
    rates_rad_s: VecDeque<f64>,
}

/// Rate of turn from sensor and compass, weighted by the inverse of their noise on a straight
/// course.
#[derive(Debug, Clone, Default)]
struct RateReading {
    /// (moment, unwrapped heading, sensor's rate).
    lately: VecDeque<(Millis, f64, Option<f64>)>,
    /// Mean squares on a straight course: sensor, compass.
    shake: Option<(f64, f64)>,
}

impl RateReading {
    /// Updates with one moment and returns the rate.
    fn take(&mut self, at: Millis, heading_rad: f64, sensor: Option<f64>, straight: bool) -> f64 {
        let dt_s = self
            .lately
            .back()
            .map_or(0.0, |(before, ..)| at.seconds_since(*before));
        self.lately.push_back((at, heading_rad, sensor));
        while self
            .lately
            .front()
            .is_some_and(|(t, ..)| at.seconds_since(*t) > SPAN_S)
        {
            self.lately.pop_front();
        }
        let compass = self.lately.front().and_then(|(t, heading, _)| {
            let span_s = at.seconds_since(*t);
            (span_s > 0.5).then(|| (heading_rad - heading) / span_s)
        });
        let sensed: Vec<f64> = self.lately.iter().filter_map(|(.., rate)| *rate).collect();
        let sensor = (!sensed.is_empty()).then(|| sensed.iter().sum::<f64>() / sensed.len() as f64);
        let (Some(sensor), Some(compass)) = (sensor, compass) else {
            return sensor.or(compass).unwrap_or(0.0);
        };
        let (a, b) = self.shake.unwrap_or((1.0, 1.0));
        if straight {
            let share = 1.0 - (-dt_s.max(0.0) / SHAKE_S).exp();
            self.shake = Some(match self.shake {
                None => (sensor * sensor, compass * compass),
                Some((a, b)) => (
                    a + share * (sensor * sensor - a),
                    b + share * (compass * compass - b),
                ),
            });
        }
        let total = a + b;
        if total > 0.0 {
            (sensor * b + compass * a) / total
        } else {
            0.5 * (sensor + compass)
        }
    }
}

impl YawWatch {
    /// Only the boat's turning behaviour, without its present heading and motion.
    pub fn habits(&self) -> Self {
        Self {
            tail_fit_m: self.tail_fit_m,
            helm: self.helm.learnt(),
            speed_mps: self.speed_mps,
            wander: self.wander.habits(),
            sizes: self.sizes.clone(),
            rates_rad_s: self.rates_rad_s.clone(),
            ..Self::default()
        }
    }

    /// Updates with the vessel at one moment; `foretold` are the sides (+ 1 is starboard) to which
    /// crew or instruments foretell a turn about now. Without a heading everything is reset.
    pub fn follow(&mut self, vessel: &VesselNow, foretold: &[f64], settings: &TurnSettings) {
        let Some(reading) = &vessel.heading_true_rad else {
            *self = self.habits();
            return;
        };
        let at = vessel.at;
        let read_rad = self.read_rad.map_or(reading.value, |before| {
            before + wrap_signed(reading.value - before)
        });
        self.read_rad = Some(read_rad);
        let rate = vessel.rate_of_turn_rad_s.as_ref();
        let (mut heading_rad, mut lead_rad) = (read_rad, 0.0);
        if let Some(rate) = rate {
            let newer_s = rate.at.seconds_since(reading.at);
            if newer_s > -SENSED_S {
                heading_rad += rate.value * newer_s.clamp(0.0, FORWARD_S);
                lead_rad = rate.value * LEAD_S;
            }
        }
        self.heading_rad = heading_rad;
        self.resting_rad = heading_rad + lead_rad;
        let sensor = rate.map(|rate| rate.value);
        let straight = self.turning.is_none();
        self.rate_rad_s = self.reading.take(at, heading_rad, sensor, straight);
        let speed = vessel.speed_water_mps.as_ref();
        if let Some(speed) = speed.or(vessel.speed_ground_mps.as_ref()) {
            self.speed_mps = Some(speed.value);
        }
        let bow = BowNow {
            at,
            heading_rad,
            rate_rad_s: self.rate_rad_s,
            speed_mps: self.speed_mps(),
            straight,
        };
        let rudder = vessel.rudder_rad.as_ref().map(|rudder| rudder.value);
        self.helm.follow(&bow, rudder);
        match self.turning {
            Some(turning) => self.go_on(at, turning, settings),
            None => self.look_for_turn(at, foretold, settings),
        }
    }

    fn speed_mps(&self) -> f64 {
        self.speed_mps.unwrap_or(SPEED_MPS.0).max(SPEED_MPS.1)
    }

    /// The steady rate for the present rudder, + to starboard, where K is known.
    fn steady_rate_rad_s(&self) -> Option<f64> {
        self.helm.steady_rate_rad_s(self.speed_mps())
    }

    /// Since when the helm has been held over, if recently: K predicts a turn, and the bow has
    /// begun to follow.
    fn held_since(&self, at: Millis, off_rad: f64, settings: &TurnSettings) -> Option<Millis> {
        let since = self.helm.over_since()?;
        let steady = self.steady_rate_rad_s()?;
        let held_s = at.seconds_since(since);
        let answers = steady * self.rate_rad_s > 0.0 && steady * off_rad > 0.0;
        (answers
            && steady.abs() > 2.0 * settings.least_rate_deg_s.to_radians()
            && (HELD_S..self.rise_s(settings)).contains(&held_s))
        .then_some(since)
    }

    /// Time after helm over by which the bow must respond.
    fn rise_s(&self, settings: &TurnSettings) -> f64 {
        0.5 * SPAN_S + 3.0 * self.time_constant_s(settings)
    }

    fn look_for_turn(&mut self, at: Millis, foretold: &[f64], settings: &TurnSettings) {
        self.wander.follow(at, self.resting_rad);
        let held_since = |side: f64| self.held_since(at, side, settings);
        let need = |side: f64| -> Need {
            if foretold.contains(&side) || held_since(side).is_some() {
                FORETOLD
            } else {
                UNEXPECTED
            }
        };
        let Some(change) = self.wander.turn(need) else {
            return;
        };
        let least_rate = settings.least_rate_deg_s.to_radians();
        if self.rate_rad_s * change <= 0.0 || self.rate_rad_s.abs() <= least_rate {
            return;
        }
        let since_s = (SINCE * change / self.rate_rad_s).clamp(0.5, 8.0);
        let begun = held_since(change.signum()).unwrap_or_else(|| at.plus_seconds(-since_s));
        let from_rad = self.wander.course_rad(begun).unwrap_or(self.heading_rad);
        self.turning = Some(Turning {
            begun,
            from_rad,
            turned_rad: self.heading_rad - from_rad,
            peak_rad_s: self.rate_rad_s.abs(),
            ending: false,
        });
        self.slow_since = None;
        self.slack_since = None;
        self.tail.clear();
    }

    fn go_on(&mut self, at: Millis, mut turning: Turning, settings: &TurnSettings) {
        turning.turned_rad = self.heading_rad - turning.from_rad;
        let along = self
            .rate_rad_s
            .copysign(self.rate_rad_s * turning.turned_rad);
        turning.peak_rad_s = turning.peak_rad_s.max(along);
        let elapsed = at.seconds_since(turning.begun);
        let helm_back = self
            .helm
            .off_rad
            .filter(|_| self.helm.was_over(turning.begun))
            .is_some_and(|rudder| rudder.abs() < 0.035 || rudder * turning.turned_rad < 0.0);
        // The rate is still building up: a small value now is not evidence.
        let rising = elapsed < self.rise_s(settings)
            && self.steady_rate_rad_s().is_some_and(|steady| {
                steady * turning.turned_rad > 0.0 && steady.abs() > turning.peak_rad_s
            });
        let slack = !rising
            && (along < ENDING[1] * turning.peak_rad_s
                || (helm_back && along < 0.9 * turning.peak_rad_s));
        if !slack {
            self.slack_since = None;
        }
        let slack_s = slack.then(|| at.seconds_since(*self.slack_since.get_or_insert(at)));
        turning.ending = elapsed > 2.0
            && !rising
            && if turning.ending {
                helm_back || along < ENDING[2] * turning.peak_rad_s
            } else {
                along < ENDING[0] * turning.peak_rad_s || slack_s.is_some_and(|s| s >= ENDING_S)
            };
        if turning.ending && along > 0.1 * turning.peak_rad_s {
            self.tail.push((elapsed, along.ln()));
        } else if !turning.ending {
            self.tail.clear();
        }
        let least_rate = 0.5 * settings.least_rate_deg_s.to_radians();
        let slow = !rising && along < (0.25 * turning.peak_rad_s).max(least_rate);
        if !slow {
            self.slow_since = None;
        }
        let slow_since = slow.then(|| *self.slow_since.get_or_insert(at));
        self.turning = Some(turning);
        if slow_since.is_some_and(|since| at.seconds_since(since) >= 2.0) {
            self.finish(at, turning);
        }
    }

    fn finish(&mut self, at: Millis, turning: Turning) {
        self.turning = None;
        self.slow_since = None;
        self.wander
            .begin_anew(at, self.resting_rad, turning.turned_rad);
        let size = turning.turned_rad.abs();
        self.sizes.remember(size);
        if size > 12f64.to_radians() {
            remember(&mut self.rates_rad_s, turning.peak_rad_s);
            self.fit_tail();
        }
        self.tail.clear();
    }

    /// Slope of ln r against time while the rate decays.
    fn fit_tail(&mut self) {
        if self.tail.len() < 3 {
            return;
        }
        let n = self.tail.len() as f64;
        let mean_t = self.tail.iter().map(|p| p.0).sum::<f64>() / n;
        let mean_l = self.tail.iter().map(|p| p.1).sum::<f64>() / n;
        let tt = self
            .tail
            .iter()
            .map(|p| (p.0 - mean_t).powi(2))
            .sum::<f64>();
        let tl = self
            .tail
            .iter()
            .map(|p| (p.0 - mean_t) * (p.1 - mean_l))
            .sum::<f64>();
        if tt <= 0.0 || tl >= 0.0 {
            return;
        }
        let fitted = -tt / tl;
        if (TIME_CONSTANT_RANGE_S.0..=TIME_CONSTANT_RANGE_S.1).contains(&fitted) {
            let fitted = fitted * self.speed_mps();
            self.tail_fit_m = Some(
                self.tail_fit_m
                    .map_or(fitted, |old| 0.6 * old + 0.4 * fitted),
            );
        }
    }

    /// Nomoto's T at this speed, as far as it is estimated.
    pub fn time_constant_s(&self, settings: &TurnSettings) -> f64 {
        let lag_m = self.helm.answer().map(|answer| answer.lag_m);
        lag_m
            .or(self.tail_fit_m)
            .map_or(settings.yaw_time_constant_s, |lag_m| {
                let (least, most) = TIME_CONSTANT_RANGE_S;
                (lag_m / self.speed_mps()).clamp(least, most)
            })
    }

    /// Nomoto's K at this speed, once it is estimated.
    pub fn gain_per_s(&self) -> Option<f64> {
        Some(self.helm.answer()?.gain_per_m * self.speed_mps())
    }

    /// What is left of the turn under way, + away from the course before it.
    pub fn left_rad(&self, turning: &Turning, settings: &TurnSettings) -> Quantiles {
        let along = |rate: f64| rate.copysign(rate * turning.turned_rad);
        // What the rudder makes of the rate, where K is known, else what it was: a mean.
        let (rate, late_s) = match self.steady_rate_rad_s() {
            Some(steady) => (steady, 0.0),
            None => (self.rate_rad_s, 0.5 * SPAN_S),
        };
        let peak = turning.peak_rad_s.max(1e-3);
        let now = SoFar {
            turned_rad: turning.turned_rad.abs(),
            coming_rad: peak * self.time_constant_s(settings),
            rate_share: (along(rate) / peak).clamp(-0.5, 1.0),
            share_sd: self.wander.rate_sd_rad_s() / peak,
            since_rad: peak * late_s,
        };
        self.sizes.left(now, settings.usual_turn_deg.to_radians())
    }

    /// Rate of a turn: the setting counts as four turns, those made today as one each.
    pub fn usual_rate_rad_s(&self, settings: &TurnSettings) -> f64 {
        blend(&self.rates_rad_s, settings.usual_rate_deg_s.to_radians())
    }

    /// The commanded rate behind the present rate, which is still rising early in a turn.
    pub fn commanded_rate_rad_s(&self, at: Millis, settings: &TurnSettings) -> f64 {
        let Some(turning) = self.turning else {
            return self.usual_rate_rad_s(settings);
        };
        let elapsed = at.seconds_since(turning.begun).max(1.0);
        let left = |elapsed_s: f64| (-elapsed_s.max(0.0) / self.time_constant_s(settings)).exp();
        let rate = match self.steady_rate_rad_s() {
            // The present rate is measured (as a mean, so half its span late); the rudder gives the
            // final one.
            Some(steady) => {
                let along = steady.copysign(steady * turning.turned_rad).max(0.0);
                turning.peak_rad_s + along * left(elapsed - 0.5 * SPAN_S)
            }
            None => turning.peak_rad_s / (1.0 - left(elapsed)),
        };
        rate.min(15f64.to_radians())
    }
}

fn remember(list: &mut VecDeque<f64>, value: f64) {
    list.push_back(value);
    if list.len() > 20 {
        list.pop_front();
    }
}

/// Geometric mean with the setting counted four times.
fn blend(seen: &VecDeque<f64>, setting: f64) -> f64 {
    let logs = seen.iter().map(|v| v.max(1e-4).ln()).sum::<f64>() + 4.0 * setting.ln();
    (logs / (seen.len() as f64 + 4.0)).exp()
}
