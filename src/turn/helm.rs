//! The boat's response to its rudder: Nomoto's K and T, estimated online.
//!
//! T r' + r = K delta (K. Nomoto et al. 1957, *On the steering qualities of ships*). K' = K L / U
//! and T' = T U / L do not depend on speed (from memory), and the length L is constant, so K = k U
//! and T = c / U: k and c are fitted. Between two moments the model says
//!
//!   psi1 - psi0 = k ∫ U delta dt - c (r1 - r0) / U,
//!
//! which is fitted by least squares while the helm is over and shortly after. No rate is
//! differentiated, and because heading, rate and integral are means over the same span, the lag of
//! the averaging cancels. A rudder that moves only around midships is not informative. k and c are
//! used only when their standard errors are small.

use std::collections::VecDeque;

use crate::time::Millis;

/// Heading, rate and rudder are averaged over this span to suppress sensor noise.
pub(super) const SPAN_S: f64 = 2.2;
/// Least interval between two compared moments, ...
const APART_S: f64 = 2.8;
/// ... so that about this many consecutive comparisons share their noise.
const SHARED: f64 = 4.0;
/// Calls closer than the first are one moment; further apart than the second they leave a gap.
const STEP_S: (f64, f64) = (0.4, 3.0);
/// The helm is over when it is further than this from its mean. Invented: more than helms and
/// pilots need to keep a course.
const OVER_RAD: f64 = 0.06;
/// Low-pass gain per call with which the rudder's mean (its trim) follows it, and the largest step.
const TRIM: (f64, f64) = (0.05, 0.001);
/// Forgetting factor per comparison: trim, load and fouling change.
const FADE: f64 = 0.998;
const LEAST_SAMPLES: f64 = 12.0;
/// Largest relative standard error of k and of c.
const LEAST_SURE: (f64, f64) = (0.15, 0.3);
/// Plausible range of K / U for boats of this kind: 0.2 to 1 1/s at a few m/s (from memory),
/// widened threefold.
const GAIN_RANGE_PER_M: (f64, f64) = (0.01, 1.0);

/// A rudder that has been over for so long, seconds, while the bow has turned by less than this, says
/// what is not so (invented: a boat answers within a few seconds).
const IDLE_S: f64 = 15.0;
const IDLE_RAD: f64 = 0.09;

/// Nomoto's model of this boat, for any speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Answer {
    /// K / U.
    pub gain_per_m: f64,
    /// T U.
    pub lag_m: f64,
}

/// Watches the rudder.
#[derive(Debug, Clone, Default)]
pub(super) struct HelmWatch {
    fit: Fit,
    lately: VecDeque<Moment>,
    means: VecDeque<Moment>,
    trim_rad: Option<f64>,
    /// Mean square deviation from the trim on a straight course.
    work_rad2: Option<f64>,
    /// Deviation from the trim now; `None` without a rudder.
    pub off_rad: Option<f64>,
    /// While it is over to one side.
    over: Option<Over>,
    /// When it was last over.
    last_over: Option<Millis>,
}

/// How things were when the rudder went over.
#[derive(Debug, Clone, Copy)]
struct Over {
    since: Millis,
    /// The sign of its deviation from the trim.
    side: f64,
    heading_rad: f64,
    /// For when it turns out that it did not.
    fit_before: Fit,
}

#[derive(Debug, Clone, Copy)]
struct Moment {
    at: Millis,
    heading_rad: f64,
    rate_rad_s: f64,
    speed_mps: f64,
    off_rad: f64,
    /// Running integral of U delta dt.
    pushed_m: f64,
}

/// The bow as the helm watch needs it.
#[derive(Debug, Clone, Copy)]
pub(super) struct BowNow {
    pub at: Millis,
    /// Unwrapped.
    pub heading_rad: f64,
    /// Mean over [`SPAN_S`].
    pub rate_rad_s: f64,
    pub speed_mps: f64,
    /// No turn under way.
    pub straight: bool,
}

impl HelmWatch {
    /// Updates with one moment.
    pub fn follow(&mut self, bow: &BowNow, rudder_rad: Option<f64>) {
        let Some(rudder) = rudder_rad else {
            *self = self.learnt();
            return;
        };
        let trim = *self.trim_rad.get_or_insert(rudder);
        let off_rad = rudder - trim;
        self.off_rad = Some(off_rad);
        let last = self.lately.back().copied();
        let dt = last.map_or(f64::INFINITY, |last| bow.at.seconds_since(last.at));
        if dt < STEP_S.0 {
            return;
        }
        if dt > STEP_S.1 {
            self.lately.clear();
            self.means.clear();
        }
        if bow.straight {
            self.trim_rad = Some(trim + (TRIM.0 * off_rad).clamp(-TRIM.1, TRIM.1));
            let work = self.work_rad2.get_or_insert(OVER_RAD * OVER_RAD);
            *work += 0.03 * ((off_rad * off_rad).min(0.01) - *work);
        }
        let over = off_rad.abs() > self.over_rad();
        self.over = self
            .over
            .filter(|held| over && held.side * off_rad > 0.0)
            .or_else(|| {
                over.then_some(Over {
                    since: bow.at,
                    side: off_rad.signum(),
                    heading_rad: bow.heading_rad,
                    fit_before: self.fit,
                })
            });
        let idle = |held: &Over| {
            bow.straight
                && bow.at.seconds_since(held.since) >= IDLE_S
                && (bow.heading_rad - held.heading_rad).abs() < IDLE_RAD
        };
        if let Some(held) = self.over.filter(idle) {
            self.fit = held.fit_before;
            self.off_rad = None;
            self.lately.clear();
            self.means.clear();
            return;
        }
        if over {
            self.last_over = Some(bow.at);
        }
        let pushed = last.filter(|_| dt <= STEP_S.1).map_or(0.0, |last| {
            let push = 0.5 * (last.off_rad * last.speed_mps + off_rad * bow.speed_mps);
            last.pushed_m + push * dt
        });
        self.lately.push_back(Moment {
            at: bow.at,
            heading_rad: bow.heading_rad,
            rate_rad_s: bow.rate_rad_s,
            speed_mps: bow.speed_mps,
            off_rad,
            pushed_m: pushed,
        });
        drop_older(&mut self.lately, bow.at, SPAN_S);
        self.compare(bow);
    }

    /// Compares the mean of this span with one some seconds ago.
    fn compare(&mut self, bow: &BowNow) {
        let n = self.lately.len() as f64;
        let mean = |of: fn(&Moment) -> f64| self.lately.iter().map(of).sum::<f64>() / n;
        let now = Moment {
            at: bow.at,
            heading_rad: mean(|m| m.heading_rad),
            rate_rad_s: bow.rate_rad_s,
            speed_mps: mean(|m| m.speed_mps),
            off_rad: mean(|m| m.off_rad),
            pushed_m: mean(|m| m.pushed_m),
        };
        if n >= 2.0 {
            self.means.push_back(now);
        }
        drop_older(&mut self.means, bow.at, APART_S + 1.0);
        let helm_over = self.means.iter().any(|m| m.off_rad.abs() > OVER_RAD);
        if let Some(then) = self.means.front()
            && helm_over
            && now.at.seconds_since(then.at) >= APART_S
        {
            let speed = 0.5 * (now.speed_mps + then.speed_mps);
            self.fit.add(
                now.pushed_m - then.pushed_m,
                -(now.rate_rad_s - then.rate_rad_s) / speed,
                now.heading_rad - then.heading_rad,
            );
        }
    }

    /// What is kept when the rudder or the heading is lost.
    pub fn learnt(&self) -> Self {
        Self {
            fit: self.fit,
            ..Self::default()
        }
    }

    /// K and T for any speed, once the helm has moved enough to estimate them.
    pub fn answer(&self) -> Option<Answer> {
        self.fit.answer()
    }

    /// The rate at which the boat will turn with the rudder as it is, + to starboard; `None`
    /// without a rudder and before K is known.
    pub fn steady_rate_rad_s(&self, speed_mps: f64) -> Option<f64> {
        Some(self.answer()?.gain_per_m * speed_mps * self.off_rad?)
    }

    /// Since when the helm is over, by more than the course needs.
    pub fn over_since(&self) -> Option<Millis> {
        self.off_rad.and(self.over).map(|held| held.since)
    }

    /// Whether the helm has been over since: only such a one can be back.
    pub fn was_over(&self, since: Millis) -> bool {
        self.last_over.is_some_and(|last| last >= since)
    }

    fn over_rad(&self) -> f64 {
        let work = self.work_rad2.unwrap_or(OVER_RAD * OVER_RAD);
        OVER_RAD.max(3.0 * work.sqrt())
    }
}

fn drop_older(moments: &mut VecDeque<Moment>, at: Millis, than_s: f64) {
    while moments
        .front()
        .is_some_and(|m| at.seconds_since(m.at) > than_s)
    {
        moments.pop_front();
    }
}

/// Sums of the least-squares fit of y = k x + c z.
#[derive(Debug, Clone, Copy, Default)]
struct Fit {
    n: f64,
    xx: f64,
    xz: f64,
    zz: f64,
    xy: f64,
    zy: f64,
    yy: f64,
}

impl Fit {
    fn add(&mut self, x: f64, z: f64, y: f64) {
        let new = [1.0, x * x, x * z, z * z, x * y, z * y, y * y];
        let Self {
            n,
            xx,
            xz,
            zz,
            xy,
            zy,
            yy,
        } = self;
        for (sum, new) in [n, xx, xz, zz, xy, zy, yy].into_iter().zip(new) {
            *sum = FADE * *sum + new;
        }
    }

    fn answer(&self) -> Option<Answer> {
        let det = self.xx * self.zz - self.xz * self.xz;
        if self.n < LEAST_SAMPLES || det <= 1e-6 * self.xx * self.zz {
            return None;
        }
        let gain = (self.xy * self.zz - self.zy * self.xz) / det;
        let lag = (self.zy * self.xx - self.xy * self.xz) / det;
        let left = (self.yy - gain * self.xy - lag * self.zy).max(0.0);
        let noise = SHARED * left / (self.n - 2.0);
        let sure = (noise * self.zz / det).sqrt() < LEAST_SURE.0 * gain
            && (noise * self.xx / det).sqrt() < LEAST_SURE.1 * lag;
        let likely = (GAIN_RANGE_PER_M.0..=GAIN_RANGE_PER_M.1).contains(&gain);
        (sure && likely).then_some(Answer {
            gain_per_m: gain,
            lag_m: lag,
        })
    }
}
