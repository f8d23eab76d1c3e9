//! The boat's own yaw: whether it turns now, and how quickly it answers the helm.
//!
//! A turn is told from the yaw of the sea by the departure of the heading from its mean over the
//! last half minute *and* a rate of the same sign, both against the spread of the last minutes.
//! Nomoto's T is fitted on line: from rudder and rate by least squares of
//! r' = -r/T + (K/T) delta where a rudder sensor is there, and from the dying away of the rate at
//! the end of every turn (r falls as e^(-t/T) once the helm is back).

use std::collections::VecDeque;

use super::TurnSettings;
use super::wrap_rad;
use crate::time::Millis;
use crate::vessel::VesselNow;

/// Heading kept for the mean.
const KEEP_S: f64 = 40.0;
/// The newest heading is left out of the mean for so long, so that a turn does not hide itself.
const GUARD_S: f64 = 4.0;
/// A heading followed for less than this does not yet show how much the sea yaws the bow, ...
const YOUNG_S: f64 = 15.0;
/// ... so only a departure beyond any sea's yaw counts as a turn.
const YOUNG_FAR_RAD: f64 = 0.17;
/// Rate of turn is read over this span: one reading of a noisy sensor says little.
const RATE_SPAN_S: f64 = 2.2;
/// Memory of how much each way of reading the rate shakes on a straight course.
const SHAKE_S: f64 = 30.0;
/// A turn ends below the first share of its rate, or below the second for so long, and goes on
/// above the third.
const ENDING: [f64; 3] = [0.5, 0.7, 0.85];
const ENDING_S: f64 = 0.9;
/// T that no boat of this kind has is not believed.
const TIME_CONSTANT_RANGE_S: (f64, f64) = (0.4, 12.0);

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
    /// The helm seems to be back: only the rate that is on is left.
    pub ending: bool,
}

/// Watches heading, rate and rudder.
#[derive(Debug, Clone, Default)]
pub(super) struct YawWatch {
    /// (moment, unwrapped heading), straight stretches only.
    straight: VecDeque<(Millis, f64)>,
    last: Option<(Millis, f64)>,
    /// Unwrapped heading now.
    pub heading_rad: f64,
    /// Rate now, + to starboard.
    pub rate_rad_s: f64,
    reading: RateReading,
    /// Turn under way.
    pub turning: Option<Turning>,
    slow_since: Option<Millis>,
    slack_since: Option<Millis>,
    tail: Vec<(f64, f64)>,
    tail_fit_s: Option<f64>,
    rudder_fit: RudderFit,
    rudder_mean_rad: Option<f64>,
    rudder_off_rad: Option<f64>,
    sizes_rad: VecDeque<f64>,
    rates_rad_s: VecDeque<f64>,
}

/// Rate of turn from sensor and compass, each trusted the more the less it shakes while the
/// course is straight.
#[derive(Debug, Clone, Default)]
struct RateReading {
    /// (moment, unwrapped heading, sensor's rate).
    lately: VecDeque<(Millis, f64, Option<f64>)>,
    /// Mean squares on a straight course: sensor, compass.
    shake: Option<(f64, f64)>,
}

impl RateReading {
    /// Takes in one moment and gives the rate.
    fn take(&mut self, at: Millis, heading_rad: f64, sensor: Option<f64>, straight: bool) -> f64 {
        let dt_s = self
            .lately
            .back()
            .map_or(0.0, |(before, ..)| at.seconds_since(*before));
        self.lately.push_back((at, heading_rad, sensor));
        while self
            .lately
            .front()
            .is_some_and(|(t, ..)| at.seconds_since(*t) > RATE_SPAN_S)
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

/// Sums of the least-squares fit of r' on r and rudder.
#[derive(Debug, Clone, Copy, Default)]
struct RudderFit {
    last: Option<(Millis, f64, f64)>,
    rr: f64,
    rd: f64,
    dd: f64,
    yr: f64,
    yd: f64,
    samples: u32,
}

impl RudderFit {
    fn add(&mut self, at: Millis, rate: f64, rudder: f64) {
        if let Some((before, rate0, rudder0)) = self.last {
            let dt = at.seconds_since(before);
            if (0.2..=3.0).contains(&dt) {
                let slope = (rate - rate0) / dt;
                let (r, d) = (0.5 * (rate + rate0), 0.5 * (rudder + rudder0));
                if r.abs() > 0.01 || d.abs() > 0.05 {
                    // Old water, speed and trim fade from the fit.
                    for sum in [
                        &mut self.rr,
                        &mut self.rd,
                        &mut self.dd,
                        &mut self.yr,
                        &mut self.yd,
                    ] {
                        *sum *= 0.998;
                    }
                    self.rr += r * r;
                    self.rd += r * d;
                    self.dd += d * d;
                    self.yr += slope * r;
                    self.yd += slope * d;
                    self.samples = self.samples.saturating_add(1);
                }
            }
        }
        self.last = Some((at, rate, rudder));
    }

    /// T, when the helm has been moved enough to know.
    fn time_constant_s(&self) -> Option<f64> {
        let det = self.rr * self.dd - self.rd * self.rd;
        if self.samples < 15 || det < 1e-3 * self.rr * self.dd || det <= 0.0 {
            return None;
        }
        let on_rate = (self.yr * self.dd - self.yd * self.rd) / det;
        let fitted = -1.0 / on_rate;
        (TIME_CONSTANT_RANGE_S.0..=TIME_CONSTANT_RANGE_S.1)
            .contains(&fitted)
            .then_some(fitted)
    }
}

impl YawWatch {
    /// Only how this boat turns: neither where it heads nor what it does now.
    pub fn habits(&self) -> Self {
        Self {
            tail_fit_s: self.tail_fit_s,
            rudder_fit: self.rudder_fit,
            sizes_rad: self.sizes_rad.clone(),
            rates_rad_s: self.rates_rad_s.clone(),
            ..Self::default()
        }
    }

    /// Takes in the vessel at one moment. Without a heading nothing is known any more.
    pub fn follow(&mut self, vessel: &VesselNow, settings: &TurnSettings) {
        let Some(reading) = &vessel.heading_true_rad else {
            *self = self.habits();
            return;
        };
        let at = vessel.at;
        let heading_rad = self.last.map_or(reading.value, |(_, heading)| {
            heading + wrap_rad(reading.value - heading)
        });
        self.heading_rad = heading_rad;
        let sensor = vessel.rate_of_turn_rad_s.as_ref().map(|rate| rate.value);
        let straight = self.turning.is_none();
        self.rate_rad_s = self.reading.take(at, heading_rad, sensor, straight);
        self.last = Some((at, heading_rad));
        self.follow_rudder(vessel);
        match self.turning {
            Some(turning) => self.go_on(at, turning, settings),
            None => self.look_for_turn(at, settings),
        }
    }

    fn follow_rudder(&mut self, vessel: &VesselNow) {
        let Some(rudder) = &vessel.rudder_rad else {
            self.rudder_off_rad = None;
            return;
        };
        self.rudder_fit
            .add(vessel.at, self.rate_rad_s, rudder.value);
        let mean = self.rudder_mean_rad.unwrap_or(rudder.value);
        if self.turning.is_none() {
            self.rudder_mean_rad = Some(mean + 0.05 * (rudder.value - mean));
        }
        self.rudder_off_rad = Some(rudder.value - mean);
    }

    /// Mean and standard deviation of the heading while it was straight.
    fn baseline(&self, at: Millis) -> Option<(f64, f64)> {
        let old: Vec<f64> = self
            .straight
            .iter()
            .filter(|(t, _)| at.seconds_since(*t) >= GUARD_S)
            .map(|(_, heading)| *heading)
            .collect();
        if old.len() < 3 {
            return None;
        }
        let n = old.len() as f64;
        let mean = old.iter().sum::<f64>() / n;
        let variance = old.iter().map(|h| (h - mean).powi(2)).sum::<f64>() / n;
        Some((mean, variance.sqrt()))
    }

    fn look_for_turn(&mut self, at: Millis, settings: &TurnSettings) {
        let least_rate = settings.least_rate_deg_s.to_radians();
        if let Some((mean, sd)) = self.baseline(at) {
            let off = self.heading_rad - mean;
            let same_way = off * self.rate_rad_s > 0.0;
            let helm_over = self
                .rudder_off_rad
                .is_some_and(|rudder| rudder.abs() > 0.09 && rudder * self.rate_rad_s > 0.0);
            let known_s = self
                .straight
                .front()
                .map_or(0.0, |(first, _)| at.seconds_since(*first));
            let far = if known_s < YOUNG_S {
                YOUNG_FAR_RAD
            } else if helm_over {
                0.015f64.max(2.0 * sd)
            } else {
                0.03f64.max(3.0 * sd)
            };
            if same_way && off.abs() > far && self.rate_rad_s.abs() > least_rate {
                // Early in a first-order answer psi / r = t / 2.
                let since = (2.0 * off / self.rate_rad_s).clamp(0.5, 8.0);
                self.turning = Some(Turning {
                    begun: at.plus_seconds(-since),
                    from_rad: mean,
                    turned_rad: off,
                    peak_rad_s: self.rate_rad_s.abs(),
                    ending: false,
                });
                self.slow_since = None;
                self.slack_since = None;
                self.tail.clear();
                return;
            }
        }
        self.straight.push_back((at, self.heading_rad));
        while self
            .straight
            .front()
            .is_some_and(|(t, _)| at.seconds_since(*t) > KEEP_S)
        {
            self.straight.pop_front();
        }
    }

    fn go_on(&mut self, at: Millis, mut turning: Turning, settings: &TurnSettings) {
        turning.turned_rad = self.heading_rad - turning.from_rad;
        let along = self
            .rate_rad_s
            .copysign(self.rate_rad_s * turning.turned_rad);
        turning.peak_rad_s = turning.peak_rad_s.max(along);
        let elapsed = at.seconds_since(turning.begun);
        let helm_back = self
            .rudder_off_rad
            .is_some_and(|rudder| rudder.abs() < 0.035 || rudder * turning.turned_rad < 0.0);
        let slack = along < ENDING[1] * turning.peak_rad_s
            || (helm_back && along < 0.9 * turning.peak_rad_s);
        if !slack {
            self.slack_since = None;
        }
        let slack_s = slack.then(|| at.seconds_since(*self.slack_since.get_or_insert(at)));
        turning.ending = elapsed > 2.0
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
        let slow =
            along < (0.25 * turning.peak_rad_s).max(0.5 * settings.least_rate_deg_s.to_radians());
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
        self.straight.clear();
        // So that a second turn soon after is still told from this one.
        for i in 0..3 {
            let before_s = GUARD_S + YOUNG_S * f64::from(2 - i);
            self.straight
                .push_back((at.plus_seconds(-before_s), self.heading_rad));
        }
        let size = turning.turned_rad.abs();
        if size > 12f64.to_radians() {
            remember(&mut self.sizes_rad, size);
            remember(&mut self.rates_rad_s, turning.peak_rad_s);
            self.fit_tail();
        }
        self.tail.clear();
    }

    /// Slope of ln r against time while the rate dies away.
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
            self.tail_fit_s = Some(
                self.tail_fit_s
                    .map_or(fitted, |old| 0.6 * old + 0.4 * fitted),
            );
        }
    }

    /// Nomoto's T as far as this boat has shown it.
    pub fn time_constant_s(&self, settings: &TurnSettings) -> f64 {
        self.rudder_fit
            .time_constant_s()
            .or(self.tail_fit_s)
            .unwrap_or(settings.yaw_time_constant_s)
    }

    /// Median size of a turn: the setting counts as four turns, those made today as one each.
    pub fn usual_turn_rad(&self, settings: &TurnSettings) -> f64 {
        blend(&self.sizes_rad, settings.usual_turn_deg.to_radians())
    }

    /// Rate of a turn, likewise.
    pub fn usual_rate_rad_s(&self, settings: &TurnSettings) -> f64 {
        blend(&self.rates_rad_s, settings.usual_rate_deg_s.to_radians())
    }

    /// The commanded rate behind the rate that is on, which still rises early in a turn.
    pub fn commanded_rate_rad_s(&self, at: Millis, settings: &TurnSettings) -> f64 {
        let Some(turning) = self.turning else {
            return self.usual_rate_rad_s(settings);
        };
        let elapsed = at.seconds_since(turning.begun).max(1.0);
        let risen = 1.0 - (-elapsed / self.time_constant_s(settings)).exp();
        (turning.peak_rad_s / risen).min(15f64.to_radians())
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
