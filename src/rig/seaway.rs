//! A seaway: wind sea and swell as a sum of linear deep-water waves, drawn from a seed.
//! In: height, period, direction, seed. Out: level, slope and velocity of the water at a place and
//! moment. Knows no rig and no boat.
//!
//! Places are over the water: the whole field drifts with the current. Deep water, first order:
//! `omega^2 = g k`, velocities fall with `exp(k z)` below the mean surface and stay those at it above
//! (no stretching); no breaking, no wave drift. Spectrum: JONSWAP (Hasselmann et al. 1973: shape and
//! widths from memory). Spreading: `cos^2s(theta / 2)` (Longuet-Higgins, Cartwright and Smith 1963:
//! from memory).
//!
//! Every component stands for a bin of the spectrum: the bins have equal sums of half the energy and
//! half the logarithm of frequency, so that crests and ripples are both resolved. One frequency is
//! drawn in each bin, its amplitude is that of the bin's energy: the height is exact for every seed.

use std::f64::consts::{PI, TAU};

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use super::parameters::GRAVITY_MPS2;
use super::vector::V3;

/// Waves of one origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waves {
    /// Significant height, four standard deviations of the surface, m.
    pub height_m: f64,
    /// Peak period, s.
    pub period_s: f64,
    /// Where they come from, radians true.
    pub from_rad: f64,
    /// Exponent `s` of the spreading; `None` is long-crested.
    pub spreading: Option<f64>,
    /// Peak factor of the spectrum; 1 is a fully developed sea.
    pub peak_factor: f64,
    /// Number of components.
    pub components: usize,
    /// Lowest and highest frequency, as shares of the peak's.
    pub band: [f64; 2],
}

impl Waves {
    /// A wind sea: JONSWAP's mean peak factor, spread by `s` of 10 (invented, typical).
    #[must_use]
    pub fn wind_sea(height_m: f64, period_s: f64, from_rad: f64) -> Self {
        Self {
            height_m,
            period_s,
            from_rad,
            spreading: Some(10.0),
            peak_factor: 3.3,
            components: 28,
            band: [0.6, 3.5],
        }
    }

    /// A swell: a narrow spectrum, long-crested (invented, typical).
    #[must_use]
    pub fn swell(height_m: f64, period_s: f64, from_rad: f64) -> Self {
        Self {
            height_m,
            period_s,
            from_rad,
            spreading: None,
            peak_factor: 5.0,
            components: 14,
            band: [0.7, 1.8],
        }
    }

    /// Energy per frequency at `share` of the peak's, up to a factor.
    fn energy_at(&self, share: f64) -> f64 {
        let width = if share <= 1.0 { 0.07 } else { 0.09 };
        let off = (share - 1.0) / width;
        share.powi(-5)
            * (-1.25 * share.powi(-4)).exp()
            * self.peak_factor.powf((-0.5 * off * off).exp())
    }

    /// Bins of frequency (as shares of the peak's) with the variance that falls into each, m2.
    pub(super) fn bins(&self) -> Vec<([f64; 2], f64)> {
        const FINE: usize = 2000;
        let [low, high] = self.band;
        let ratio = (high / low).ln();
        let at = |i: usize| low * (ratio * i as f64 / FINE as f64).exp();
        let mut reached = vec![0.0; FINE + 1];
        for i in 0..FINE {
            let (a, b) = (at(i), at(i + 1));
            reached[i + 1] = reached[i] + self.energy_at(0.5 * (a + b)) * (b - a);
        }
        let total = reached[FINE];
        let mixed = |i: usize| 0.5 * (reached[i] / total + i as f64 / FINE as f64);
        let variance = self.height_m * self.height_m / 16.0;
        let mut edges = vec![(low, 0.0)];
        let mut i = 0;
        for bin in 1..self.components {
            let wanted = bin as f64 / self.components as f64;
            while mixed(i + 1) < wanted {
                i += 1;
            }
            let part = (wanted - mixed(i)) / (mixed(i + 1) - mixed(i));
            let energy = reached[i] + part * (reached[i + 1] - reached[i]);
            edges.push((at(i) + part * (at(i + 1) - at(i)), energy / total));
        }
        edges.push((high, 1.0));
        edges
            .windows(2)
            .map(|pair| {
                let [(a, ea), (b, eb)] = [pair[0], pair[1]];
                ([a, b], variance * (eb - ea))
            })
            .collect()
    }

    /// Angle from the mean direction below which the share `p` of the energy comes, radians.
    pub(super) fn spread_rad(&self, p: f64) -> f64 {
        const FINE: usize = 720;
        let Some(s) = self.spreading else { return 0.0 };
        let at = |i: f64| -PI + TAU * i / FINE as f64;
        let weight = |i: usize| (0.5 * at(i as f64 + 0.5)).cos().abs().powf(2.0 * s);
        let total: f64 = (0..FINE).map(weight).sum();
        let mut reached = 0.0;
        for i in 0..FINE {
            let w = weight(i);
            if reached + w >= p * total {
                return at(i as f64 + (p * total - reached) / w.max(1e-300));
            }
            reached += w;
        }
        PI
    }

    fn draw(&self, rng: &mut ChaCha8Rng, out: &mut Vec<Component>) {
        let bins = self.bins();
        let n = bins.len();
        let mut strata: Vec<usize> = (0..n).collect();
        for i in (1..n).rev() {
            strata.swap(i, rng.random_range(0..=i));
        }
        for (([low, high], variance), stratum) in bins.into_iter().zip(strata) {
            let share = low + (high - low) * rng.random::<f64>();
            let p = (stratum as f64 + rng.random::<f64>()) / n as f64;
            // They travel away from where they come from.
            let toward = self.from_rad + PI + self.spread_rad(p);
            let omega = TAU * share / self.period_s;
            let k = omega * omega / GRAVITY_MPS2;
            out.push(Component {
                k: [k * toward.sin(), k * toward.cos()],
                number: k,
                omega,
                amplitude_m: (2.0 * variance).sqrt(),
                phase: TAU * rng.random::<f64>(),
            });
        }
    }
}

/// One wave: `amplitude cos(k . x - omega t + phase)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Component {
    /// Wave number, east and north, 1/m, and its length.
    pub(super) k: [f64; 2],
    pub(super) number: f64,
    pub(super) omega: f64,
    pub(super) amplitude_m: f64,
    pub(super) phase: f64,
}

/// The water at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Water {
    /// Surface above its mean, m.
    pub(crate) level_m: f64,
    /// Velocity of the water, current apart.
    pub(crate) velocity: V3,
}

/// Flat water.
pub(crate) static STILL: Water = Water {
    level_m: 0.0,
    velocity: [0.0; 3],
};

/// Waves in time and place.
#[derive(Debug, Clone, PartialEq)]
pub struct Seaway {
    pub(super) components: Vec<Component>,
    /// The waves grow from nothing over this time, s.
    grows: Option<[f64; 2]>,
}

impl Seaway {
    /// Draws the waves of all systems from a seed.
    #[must_use]
    pub fn new(systems: &[Waves], seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut components = Vec::new();
        for waves in systems.iter().filter(|w| w.height_m > 0.0) {
            waves.draw(&mut rng, &mut components);
        }
        Self {
            components,
            grows: None,
        }
    }

    /// From given waves, for comparison with other programs.
    #[cfg(test)]
    pub(super) fn of(components: Vec<Component>) -> Self {
        Self {
            components,
            grows: None,
        }
    }

    /// The same, growing evenly from nothing between two moments, s.
    #[must_use]
    pub fn growing(self, from_s: f64, to_s: f64) -> Self {
        Self {
            grows: Some([from_s, to_s]),
            ..self
        }
    }

    /// How much of the full height there is at a moment.
    pub(super) fn grown(&self, t_s: f64) -> f64 {
        self.grows.map_or(1.0, |[from, to]| {
            let x = ((t_s - from) / (to - from)).clamp(0.0, 1.0);
            x * x * (3.0 - 2.0 * x)
        })
    }

    /// Surface above its mean, m.
    #[must_use]
    pub fn level_m(&self, place: [f64; 2], t_s: f64) -> f64 {
        let sum: f64 = self
            .components
            .iter()
            .map(|c| {
                let at = c.k[0] * place[0] + c.k[1] * place[1] - c.omega * t_s + c.phase;
                c.amplitude_m * at.cos()
            })
            .sum();
        self.grown(t_s) * sum
    }

    /// Level of the water at a place, and its velocity there at height `z_m` or, where that is
    /// above the water, at its surface.
    pub(crate) fn water(&self, place: [f64; 2], z_m: f64, t_s: f64) -> Water {
        let level_m = self.level_m(place, t_s);
        let depth = z_m.min(level_m).min(0.0);
        let mut velocity = [0.0; 3];
        for c in &self.components {
            let at = c.k[0] * place[0] + c.k[1] * place[1] - c.omega * t_s + c.phase;
            let (sin, cos) = at.sin_cos();
            let fast = c.amplitude_m * c.omega * (c.number * depth).exp();
            velocity[0] += fast * cos * c.k[0] / c.number;
            velocity[1] += fast * cos * c.k[1] / c.number;
            velocity[2] += fast * sin;
        }
        let grown = self.grown(t_s);
        Water {
            level_m,
            velocity: velocity.map(|v| grown * v),
        }
    }

    /// Standard deviation of the surface, m.
    #[must_use]
    pub fn deviation_m(&self) -> f64 {
        let variance: f64 = self
            .components
            .iter()
            .map(|c| 0.5 * c.amplitude_m * c.amplitude_m)
            .sum();
        variance.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn height_is_exact_for_every_seed() {
        for seed in 0..5 {
            let waves = [Waves::wind_sea(0.8, 4.0, 1.0), Waves::swell(1.2, 10.0, 3.0)];
            // Variances add: 0.8^2 + 1.2^2 over 16 (own arithmetic).
            let want = (0.64_f64 + 1.44).sqrt() / 4.0;
            let got = Seaway::new(&waves, seed).deviation_m();
            assert!((got / want - 1.0).abs() < 1e-9, "{got} {want}");
        }
    }

    #[test]
    fn waves_travel_from_where_they_come() {
        // Long-crested from north: crests move south at omega / k.
        let mut waves = Waves::wind_sea(1.0, 5.0, 0.0);
        waves.spreading = None;
        waves.components = 1;
        let sea = Seaway::new(&[waves], 3);
        let c = sea.components[0];
        let speed = c.omega / c.number;
        let level = |north: f64, t: f64| sea.level_m([0.0, north], t);
        for t in [0.0, 0.7, 1.9] {
            assert!((level(0.0, 0.0) - level(-speed * t, t)).abs() < 1e-9);
        }
        // Deep water: phase speed g T / 2 pi (own arithmetic).
        assert!((speed - GRAVITY_MPS2 / c.omega).abs() < 1e-9);
    }

    #[test]
    fn water_at_the_surface_rises_as_the_surface_does() {
        let sea = Seaway::new(&[Waves::wind_sea(0.8, 4.0, 1.0)], 2);
        for i in 0..20 {
            let (t, place) = (0.37 * f64::from(i), [1.7 * f64::from(i), -3.0]);
            let rise = (sea.level_m(place, t + 1e-4) - sea.level_m(place, t - 1e-4)) / 2e-4;
            // At the mean level: linear waves.
            let water = sea.water(place, 1.0, t);
            if water.level_m >= 0.0 {
                assert!((water.velocity[2] - rise).abs() < 1e-6);
            }
            let deep = sea.water(place, -60.0, t);
            assert!(deep.velocity.iter().all(|v| v.abs() < 1e-2));
        }
    }

    #[test]
    fn spreading_is_even_about_the_mean_direction() {
        let waves = Waves::wind_sea(1.0, 5.0, 0.0);
        for p in [0.1, 0.25, 0.4] {
            let (a, b) = (waves.spread_rad(p), waves.spread_rad(1.0 - p));
            assert!(a < 0.0 && (a + b).abs() < 1e-3, "{a} {b}");
        }
        assert!(waves.spread_rad(0.5).abs() < 1e-3);
        // For large s nearly Gaussian with variance 2 / (s + 1) (own arithmetic): 24 degrees.
        assert!((waves.spread_rad(0.8413).to_degrees() - 24.4).abs() < 1.5);
    }
}
