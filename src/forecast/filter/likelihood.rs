//! One report and one particle: its likelihood, and the line out that would make it true.

use super::particle::{Glimpse, Now, Particle};
use crate::decode::BaitState;
use crate::forecast::settings::Doubt;
use crate::rig::{Conditions, Current, DRAGGING_IMMERSION, MainLine, settled_state};

/// Prior probability that a rig is not trimmed when only its line out is known. Own judgement.
const UNTRIMMED: f64 = 0.1;
/// Spread of the immersion from one trim of a crew to the next. Own judgement.
const TRIM_SD: f64 = 0.07;
/// Where less than this share of the weight is trimmed, the beliefs are in doubt, so the trimmed
/// particles are boosted only as if it were this share.
const LEAST_TRIMMED: f64 = 0.25;
/// A marker at this height is reported on the water as often as clear of it: waves reach it, and
/// the model is least reliable for so slack a line. Own judgement.
const MARKER_LOW_M: f64 = 1.0;

/// One thing seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sighting {
    Bait(BaitState),
    Elevation(f64),
    Bearing(f64),
    /// Marker on the water, or clear of it.
    Marker(bool),
    /// A new reading of the main line count.
    MainCount(f64),
    /// Hands have left the line as it is, and nothing speaks against it: most crews have trimmed it.
    Trimmed,
}

/// Mixes in the probability that the rig is untrimmed. The likelihoods are normalised first: a
/// constant added to each would give "untrimmed" more weight the less certain the particles are.
pub fn allow_untrimmed(chances: &mut [f64], weights: &[f64]) {
    let trimmed: f64 = chances.iter().zip(weights).map(|(c, w)| c * w).sum();
    for chance in chances {
        *chance = (1.0 - UNTRIMMED) * *chance / trimmed.max(LEAST_TRIMMED) + UNTRIMMED;
    }
}

/// Likelihood of a report under one particle.
pub fn chance_of(particle: &Particle, report: Sighting, now: &Now<'_>) -> f64 {
    let doubt = now.doubt();
    // A misreading of any size keeps some likelihood.
    let read = |off: f64, sd: f64| 0.95 * (-0.5 * (off / sd) * (off / sd)).exp() + 0.05;
    let eye = |seen: f64, is: f64| {
        read(
            crate::angles::wrap_signed(seen - is),
            doubt.eye_deg.to_radians(),
        )
    };
    let Some(last) = particle.recent.last() else {
        return 0.5;
    };
    // A tap may be wrong.
    let tapped = |like: &dyn Fn(&Glimpse) -> f64| {
        let share = particle.recent.iter().map(like).sum::<f64>() / particle.recent.len() as f64;
        let wrong = doubt.wrong_report;
        (1.0 - wrong) * share + 0.5 * wrong
    };
    match report {
        Sighting::Bait(state) => tapped(&|glimpse| looks_like(glimpse, state)),
        Sighting::Trimmed => {
            let aim = particle.belief.trim_immersion(now.settings);
            let off = (last.immersion - aim) / TRIM_SD;
            if last.immersion > 0.0 {
                (-0.5 * off * off).exp()
            } else {
                0.0
            }
        }
        Sighting::Elevation(seen) => eye(seen, last.elevation_rad),
        Sighting::Bearing(seen) => eye(seen, last.off_astern_rad),
        Sighting::Marker(in_water) => tapped(&|glimpse| {
            let wet = 1.0 / (1.0 + (glimpse.marker_height_m - MARKER_LOW_M).exp());
            if in_water { wet } else { 1.0 - wet }
        }),
        Sighting::MainCount(count) => {
            let is = particle.lines.map_or(count, |lines| lines.main_m);
            read(count - is, count_sd_m(count, doubt))
        }
    }
}

fn count_sd_m(count_m: f64, doubt: &Doubt) -> f64 {
    (doubt.main_line_out * count_m).max(0.5)
}

/// How well a glimpse matches a bait state, 0..1. The borders are soft because neither the model's
/// immersion nor the eye is exact.
fn looks_like(glimpse: &Glimpse, state: BaitState) -> f64 {
    let s = glimpse.immersion;
    let airborne = if s <= 0.0 {
        (0.55 + 0.9 * (glimpse.bait_height_m - 0.035).max(0.0)).min(0.98)
    } else {
        0.5 * (1.0 - s / 0.08).max(0.0)
    };
    let dragging = 1.0 / (1.0 + (-(s - DRAGGING_IMMERSION) / 0.06).exp());
    match state {
        BaitState::Airborne => airborne,
        BaitState::Dragging => dragging,
        BaitState::Skipping => (1.0 - airborne - dragging).max(0.0),
    }
}

impl Particle {
    /// Sets the line out that makes a report true in the mean wind of the last minute; `u` in 0..1
    /// spreads particles over what the report leaves open. False when there is no such line.
    pub fn agree(&mut self, report: Sighting, u: f64, now: &Now<'_>) -> bool {
        match report {
            Sighting::Bait(BaitState::Airborne) => self.hang(0.02, 2.0 + 15.0 * u, now),
            Sighting::Bait(BaitState::Skipping) => self.hang(0.03 + 0.45 * u, 0.0, now),
            Sighting::Bait(BaitState::Dragging) => self.hang(0.72 + 0.2 * u, 0.0, now),
            Sighting::Marker(true) => self.hang(0.8 + 0.15 * u, 0.0, now),
            Sighting::Marker(false) => self.hang(0.03 + 0.6 * u, 0.0, now),
            Sighting::MainCount(count_m) => {
                let has = self.belief.lines(now.counted, now.doubt(), now.base).main_m;
                let is = count_m + (2.0 * u - 1.0) * count_sd_m(count_m, now.doubt());
                self.belief.main_extra_m += is - has;
                self.state = None;
                self.follow(now, None);
                self.state.is_some()
            }
            Sighting::Elevation(_) | Sighting::Bearing(_) | Sighting::Trimmed => false,
        }
    }

    /// Sets the main line that settles to an immersion, less `less_m`.
    fn hang(&mut self, immersion: f64, less_m: f64, now: &Now<'_>) -> bool {
        let (Some(air), Some(lines)) = (self.air, self.lines) else {
            return false;
        };
        let Some(rig) = self.build(now) else {
            return false;
        };
        let conditions = Conditions {
            wind: air.mean,
            current: Current::default(),
            boat_speed_mps: now.speed_mps.max(0.0),
            heading_rad: now.heading_rad,
            kite_line_out_m: lines.kite_m,
        };
        let Ok(trim) = settled_state(&rig, &conditions, MainLine::Immersion(immersion), None)
        else {
            return false;
        };
        let wanted = trim.main_line_m - less_m;
        let has = self.belief.lines(now.counted, now.doubt(), now.base).main_m;
        // Nobody miscounts by half.
        if (wanted - has).abs() > 0.35 * now.counted.main_m || wanted < 10.0 {
            return false;
        }
        self.belief.main_extra_m += wanted - has;
        self.rig = Some(rig);
        self.state = None;
        self.follow(now, None);
        self.state.is_some()
    }
}
