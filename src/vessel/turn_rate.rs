//! Rate of turn from a run of headings.
//!
//! Least-squares slope over the last 3 s (or the last three headings when they come slower, up to
//! 8 s back), on headings unwrapped across north. It therefore describes a moment about half that
//! time ago. With 1 Hz headings that scatter by 1 degree the slope scatters by 0.45 deg/s
//! (sigma / sqrt(sum (t - mean t)^2), four points a second apart).

use std::collections::VecDeque;

use crate::angles::wrap_signed;
use crate::time::Millis;

const WINDOW_S: f64 = 3.0;
const LONGEST_WINDOW_S: f64 = 8.0;
const LEAST_SPAN_S: f64 = 0.8;
/// No fishing boat turns faster (1 rad/s = 57 deg/s): a sensor has restarted or changed.
const JUMP_RAD_S: f64 = 1.0;
/// Slack for a jump between two headings that arrive almost together.
const JUMP_SLACK_RAD: f64 = 0.2;

/// A run of headings of one source.
#[derive(Debug, Clone, Default)]
pub(super) struct TurnRate {
    source: Option<u32>,
    headings: VecDeque<(Millis, f64)>,
}

impl TurnRate {
    /// Takes a heading in. A change of source begins a new run; of several headings that arrive in
    /// one burst the last counts.
    pub fn push(&mut self, at: Millis, source: u32, heading_rad: f64) {
        if self.source != Some(source) {
            self.headings.clear();
            self.source = Some(source);
        }
        let unwrapped = match self.headings.back() {
            Some(&(last_at, last)) => {
                let step = wrap_signed(heading_rad - last);
                let dt_s = at.seconds_since(last_at);
                if dt_s > LONGEST_WINDOW_S || step.abs() > JUMP_RAD_S * dt_s + JUMP_SLACK_RAD {
                    self.headings.clear();
                }
                last + step
            }
            None => heading_rad,
        };
        if self.headings.back().is_some_and(|&(last, _)| last == at) {
            self.headings.pop_back();
        }
        self.headings.push_back((at, unwrapped));
        while self
            .headings
            .front()
            .is_some_and(|&(first, _)| at.seconds_since(first) > LONGEST_WINDOW_S)
        {
            self.headings.pop_front();
        }
    }

    /// Slope in rad/s, positive to starboard, with the moments of the oldest and the newest heading
    /// in it.
    pub fn rate(&self) -> Option<(f64, Millis, Millis)> {
        let &(newest, _) = self.headings.back()?;
        let mut used = 0;
        for (count, &(at, _)) in self.headings.iter().rev().enumerate() {
            if count >= 3 && newest.seconds_since(at) > WINDOW_S {
                break;
            }
            used = count + 1;
        }
        let run = || self.headings.iter().rev().take(used);
        let &(oldest, _) = run().next_back()?;
        if used < 3 || newest.seconds_since(oldest) < LEAST_SPAN_S {
            return None;
        }
        let n = used as f64;
        let time = |at: Millis| at.seconds_since(newest);
        let mean_t = run().map(|&(at, _)| time(at)).sum::<f64>() / n;
        let mean_h = run().map(|&(_, h)| h).sum::<f64>() / n;
        let (above, below) = run().fold((0.0, 0.0), |(a, b), &(at, h)| {
            let dt = time(at) - mean_t;
            (a + dt * (h - mean_h), b + dt * dt)
        });
        (below > 0.0).then(|| (above / below, oldest, newest))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turning(rate_deg_s: f64, hz: f64, start_deg: f64) -> TurnRate {
        let mut run = TurnRate::default();
        let mut t = 0.0;
        while t < 10.0 {
            let heading = (start_deg + rate_deg_s * t).rem_euclid(360.0).to_radians();
            run.push(Millis(0).plus_seconds(t), 1, heading);
            t += 1.0 / hz;
        }
        run
    }

    #[test]
    fn follows_a_steady_turn_through_north_at_any_rate_of_headings() {
        for hz in [0.4, 1.0, 5.0, 10.0] {
            for rate in [-3.0, 3.0] {
                let got = turning(rate, hz, 355.0).rate().unwrap().0.to_degrees();
                assert!((got - rate).abs() < 0.05, "{rate} deg/s at {hz} Hz: {got}");
            }
        }
    }

    #[test]
    fn a_jump_is_no_turn() {
        let mut run = turning(0.0, 1.0, 90.0);
        run.push(Millis(10_000), 1, 3.0);
        assert!(run.rate().is_none());
        run.push(Millis(11_000), 1, 3.0);
        run.push(Millis(12_000), 1, 3.0);
        assert!(run.rate().unwrap().0.abs() < 1e-9);
    }

    #[test]
    fn another_source_starts_anew() {
        let mut run = turning(3.0, 1.0, 0.0);
        run.push(Millis(10_000), 2, 1.0);
        assert!(run.rate().is_none());
    }
}
