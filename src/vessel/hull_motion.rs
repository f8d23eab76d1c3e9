//! How the hull moves in the waves: its heave, pitch and roll over the last minutes.
//! In: readings with the moments of their arrival. Out: how much each varies, and how often the boat
//! meets a wave. Knows no sea and no rig.

use std::collections::VecDeque;

use serde::Serialize;

use crate::time::Millis;

/// Readings older than this are dropped.
const WINDOW_S: f64 = 300.0;
/// Less than this, or fewer readings, tells nothing; nor do readings that came so long ago.
const LEAST_S: f64 = 60.0;
const LEAST_READINGS: usize = 50;
const STALE_S: f64 = 15.0;
/// Readings kept at most: ten a second.
const MOST: usize = 3000;

/// How the hull has moved in the last minutes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HullMotion {
    /// Length of the record.
    pub window_s: f64,
    /// Standard deviation of heave; `None` without such a sensor.
    pub heave_sd_m: Option<f64>,
    /// Of pitch.
    pub pitch_sd_rad: Option<f64>,
    /// Of roll.
    pub roll_sd_rad: Option<f64>,
    /// Mean time between waves as the boat meets them (upward crossings of the mean of heave, or of
    /// pitch without it).
    pub met_every_s: Option<f64>,
}

/// One quantity over the last minutes.
#[derive(Debug, Clone, Default)]
struct Record(VecDeque<(Millis, f64)>);

impl Record {
    fn hear(&mut self, at: Millis, value: f64) {
        let old = |first: &(Millis, f64)| at.seconds_since(first.0) > WINDOW_S;
        while self.0.len() >= MOST || self.0.front().is_some_and(old) {
            self.0.pop_front();
        }
        self.0.push_back((at, value));
    }

    fn length_s(&self) -> f64 {
        let ends = self.0.front().zip(self.0.back());
        ends.map_or(0.0, |(first, last)| last.0.seconds_since(first.0))
    }

    fn tells(&self, now: Millis) -> bool {
        self.0.len() >= LEAST_READINGS
            && self.length_s() >= LEAST_S
            && self
                .0
                .back()
                .is_some_and(|last| now.seconds_since(last.0) <= STALE_S)
    }

    fn mean(&self) -> f64 {
        self.0.iter().map(|(_, value)| value).sum::<f64>() / self.0.len().max(1) as f64
    }

    fn deviation(&self) -> f64 {
        let mean = self.mean();
        let squares = self.0.iter().map(|(_, value)| (value - mean).powi(2));
        (squares.sum::<f64>() / self.0.len().max(1) as f64).sqrt()
    }

    fn upward_every_s(&self) -> Option<f64> {
        let mean = self.mean();
        let pairs = self.0.iter().zip(self.0.iter().skip(1));
        let crossings = pairs.filter(|(a, b)| a.1 < mean && b.1 >= mean).count();
        (crossings > 2).then(|| self.length_s() / crossings as f64)
    }
}

/// Heave, pitch and roll over the last minutes.
#[derive(Debug, Clone, Default)]
pub(super) struct HullRecord {
    heave_m: Record,
    pitch_rad: Record,
    roll_rad: Record,
}

impl HullRecord {
    pub(super) fn hear(
        &mut self,
        at: Millis,
        heave_m: Option<f64>,
        pitch_rad: Option<f64>,
        roll_rad: Option<f64>,
    ) {
        for (record, value) in [
            (&mut self.heave_m, heave_m),
            (&mut self.pitch_rad, pitch_rad),
            (&mut self.roll_rad, roll_rad),
        ] {
            if let Some(value) = value {
                record.hear(at, value);
            }
        }
    }

    /// `None` while too little has been heard.
    pub(super) fn now(&self, now: Millis) -> Option<HullMotion> {
        let told = |record: &Record| record.tells(now).then(|| record.deviation());
        let (heave_sd_m, pitch_sd_rad, roll_sd_rad) = (
            told(&self.heave_m),
            told(&self.pitch_rad),
            told(&self.roll_rad),
        );
        let timed = match (heave_sd_m, pitch_sd_rad, roll_sd_rad) {
            (Some(_), ..) => &self.heave_m,
            (_, Some(_), _) => &self.pitch_rad,
            (_, _, Some(_)) => &self.roll_rad,
            _ => return None,
        };
        Some(HullMotion {
            window_s: timed.length_s(),
            heave_sd_m,
            pitch_sd_rad,
            roll_sd_rad,
            met_every_s: timed.upward_every_s(),
        })
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    #[test]
    fn a_sine_gives_its_deviation_and_its_period() {
        let mut record = HullRecord::default();
        let at = |t_s: f64| Millis(1_000_000_000_000).plus_seconds(t_s);
        for i in 0..1000 {
            let t_s = 0.2 * f64::from(i);
            assert_eq!(record.now(at(t_s)).is_some(), i > 300, "{t_s}");
            let phase = TAU * t_s / 5.0;
            record.hear(
                at(t_s),
                Some(0.5 * phase.sin()),
                Some(0.1 * phase.cos()),
                None,
            );
        }
        let now = record.now(at(200.0)).unwrap();
        // The root mean square of a sine of amplitude a is a / sqrt 2.
        assert!((now.heave_sd_m.unwrap() - 0.5 / f64::sqrt(2.0)).abs() < 0.01);
        assert!((now.pitch_sd_rad.unwrap() - 0.1 / f64::sqrt(2.0)).abs() < 0.002);
        assert_eq!(now.roll_sd_rad, None);
        assert!((now.met_every_s.unwrap() - 5.0).abs() < 0.2);
        // A silent sensor tells nothing any more.
        assert!(record.now(at(230.0)).is_none());
    }
}
