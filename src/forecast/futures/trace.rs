//! One future as it came out: samples over time, and the onset of each trouble in it.

use super::strain::Strain;
use crate::forecast::filter::off_astern_rad;
use crate::forecast::sea::{SeaAhead, SkipBand};
use crate::forecast::settings::ForecastSettings;
use crate::rig::{Rig, Sample, Structure};

/// Interval of the traces.
pub const TRACE_S: f64 = 1.0;

/// Shortest overload that counts: a single sample may be numerical.
const OVERLOAD_S: f64 = 1.0;

/// One future, sampled each [`TRACE_S`].
#[derive(Debug, Clone, Default)]
pub struct Trace {
    pub immersion: Vec<f64>,
    pub bait_height_m: Vec<f64>,
    pub elevation_deg: Vec<f64>,
    pub off_astern_deg: Vec<f64>,
    pub wet: Vec<bool>,
    /// Bait east and north, over the water, of where the boat is at the beginning.
    pub bait_m: Vec<[f64; 2]>,
    pub strain: Strain,
    /// The kite came down or the model gave up before the horizon: seconds.
    pub ended_s: Option<f64>,
    pub kite_down: bool,
    sea: Option<SeaAhead>,
    half_bait_m: f64,
}

impl Trace {
    /// An empty one of this rig.
    pub fn in_sea(rig: &Rig, sea: Option<SeaAhead>) -> Self {
        Self {
            sea,
            half_bait_m: 0.5 * rig.parameters().bait.height_m,
            ..Self::default()
        }
    }

    /// `boat_m` is the boat, east and north over the water of where it was at the beginning.
    pub fn note(&mut self, rig: &Rig, structures: &[Structure], sample: &Sample, boat_m: [f64; 2]) {
        let [aft_m, starboard_m, _] = sample.shape.bait();
        let (sin, cos) = sample.heading_rad.sin_cos();
        self.bait_m.push([
            boat_m[0] - aft_m * sin + starboard_m * cos,
            boat_m[1] - aft_m * cos - starboard_m * sin,
        ]);
        self.immersion.push(sample.immersion);
        self.bait_height_m.push(sample.bait_height_m.max(-50.0));
        self.elevation_deg
            .push(sample.kite_elevation_rad.to_degrees());
        self.off_astern_deg
            .push(off_astern_rad(sample).to_degrees());
        self.wet.push(sample.line_wet_fraction > 0.0);
        match &self.sea {
            Some(sea) => {
                let loaded = sea.loaded(rig, sample);
                self.strain.note(rig, structures, &loaded);
            }
            None => self.strain.note(rig, structures, sample),
        }
    }

    /// Holds the last known values to the horizon.
    pub fn hold(&mut self, count: usize) {
        for series in [
            &mut self.immersion,
            &mut self.bait_height_m,
            &mut self.elevation_deg,
            &mut self.off_astern_deg,
        ] {
            let last = series.last().copied().unwrap_or(0.0);
            series.resize(count, last);
        }
        let last = self.bait_m.last().copied().unwrap_or_default();
        self.bait_m.resize(count, last);
        let last = self.wet.last().copied().unwrap_or(false);
        self.wet.resize(count, last);
        self.strain.hold(count);
    }

    /// First time that `holds` for at least `least_s`.
    pub fn first_run(&self, least_s: f64, holds: impl Fn(usize) -> bool) -> Option<f64> {
        let need = (least_s / TRACE_S).round() as usize;
        let mut since = None;
        for i in 0..self.immersion.len() {
            if !holds(i) {
                since = None;
                continue;
            }
            let first = *since.get_or_insert(i);
            if i - first >= need {
                return Some(first as f64 * TRACE_S);
            }
        }
        None
    }

    fn skip_band(&self, settings: &ForecastSettings) -> SkipBand {
        let flat = SkipBand::flat(settings.dragging_immersion);
        self.sea.as_ref().map_or(flat, |sea| sea.skip_band(flat))
    }

    /// Clearance of the bait above the mean level.
    fn clear_m(&self, i: usize) -> f64 {
        self.bait_height_m[i] - self.half_bait_m
    }

    fn event_s(&self, settings: &ForecastSettings) -> f64 {
        match &self.sea {
            Some(sea) => sea.event_s(settings.event_s),
            None => settings.event_s,
        }
    }

    pub fn airborne_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        let band = self.skip_band(settings);
        self.first_run(self.event_s(settings), |i| {
            band.flies(self.immersion[i], self.clear_m(i))
        })
    }

    pub fn dragging_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        let band = self.skip_band(settings);
        self.first_run(self.event_s(settings), |i| band.drags(self.immersion[i]))
    }

    pub fn sinking_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        let low = self.first_run(settings.event_s, |i| {
            self.elevation_deg[i] < settings.kite_sinking_deg
        });
        match (low, self.ended_s) {
            (Some(low), _) => Some(low),
            (None, Some(end)) if self.kite_down => Some(end),
            _ => None,
        }
    }

    pub fn off_corner_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        let first = *self.off_astern_deg.first()?;
        if !settings.bite_zone.holds(first) {
            return None;
        }
        self.first_run(10.0, |i| !settings.bite_zone.holds(self.off_astern_deg[i]))
    }

    pub fn wet_at_s(&self) -> Option<f64> {
        self.first_run(2.0, |i| self.wet[i])
    }

    /// Share of the time in which the bait skips.
    pub fn skipping(&self, settings: &ForecastSettings) -> f64 {
        let band = self.skip_band(settings);
        let skips = (0..self.immersion.len())
            .filter(|i| band.holds(self.immersion[*i], self.clear_m(*i)))
            .count();
        skips as f64 / self.immersion.len().max(1) as f64
    }

    pub fn overload_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        self.first_run(OVERLOAD_S, |i| {
            at_least(&self.strain.load_share, i, settings.overload_share)
        })
    }

    pub fn release_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        self.first_run(OVERLOAD_S, |i| {
            at_least(&self.strain.band_share, i, settings.release_share)
        })
    }

    pub fn foul_at_s(&self) -> Option<f64> {
        self.first_run(0.0, |i| {
            self.strain.clear_by_m.get(i).is_some_and(|by| *by < 0.0)
        })
    }
}

fn at_least(series: &[f64], i: usize, border: f64) -> bool {
    series.get(i).is_some_and(|share| *share >= border)
}
