//! How far a turn goes that nobody has announced: by this helm's turns so far and by what the bow
//! does now.
//!
//! Before a turn: two kinds, corrections of the course and turns proper, each log-logistic, mixed
//! with the sizes of this boat's own last turns. During it (Bayes): it goes at least as far as it has
//! come, and its rate tells how much is left. With the helm back amidships a rate r turns the bow by
//! r T more (Nomoto's model, see [`super::profile`]), so that at R, its greatest, the rate stays until
//! R T is left and then is the share left / R T of it.

use std::collections::VecDeque;

/// The remaining change at equally spaced quantiles, from the least to the most.
pub type Quantiles = [f64; 21];

/// Share of corrections among the turns that are seen. On the lake log (`tests/checks/turn_seen.rs`)
/// 15 % of what is seen ends within 16 degrees; a boat that does not tack turns less often and
/// corrects as much: twice that, invented.
const CORRECTIONS: f64 = 0.3;
/// Their median.
const CORRECTION_RAD: f64 = 0.17;
/// Log-logistic scale of either kind: half of them are between 0.68 and 1.47 times the median.
/// Invented, typical.
const LOG_SCALE: f64 = 0.35;
/// Both kinds together count as so many of the boat's own turns, of which the last so many count.
const PRIOR_TURNS: f64 = 8.0;
const KEPT: usize = 20;
/// A turn of some size speaks for turns about so much larger and smaller, in log size.
const LIKE: f64 = 0.2;
/// Classes of size: smallest, largest, number. They are spaced evenly in log size.
const LEAST_RAD: f64 = 0.05;
const MOST_RAD: f64 = std::f64::consts::TAU;
const CLASSES: usize = 48;
/// Standard deviation of the rate as a share of its greatest, for reasons other than wander: helms
/// do not hold the wheel still.
const RATE_SHARE_SD: f64 = 0.15;

/// The turn now.
#[derive(Debug, Clone, Copy)]
pub(super) struct SoFar {
    /// Turned so far, positive.
    pub turned_rad: f64,
    /// Greatest rate times Nomoto's T.
    pub coming_rad: f64,
    /// Rate as a share of the greatest: what it is, or what the rudder will make of it.
    pub rate_share: f64,
    /// Its standard deviation by wander.
    pub share_sd: f64,
    /// Turned at that rate since the moment that the share describes.
    pub since_rad: f64,
}

/// Sizes of this boat's own turns.
#[derive(Debug, Clone, Default)]
pub(super) struct Sizes {
    seen_rad: VecDeque<f64>,
}

impl Sizes {
    /// A turn has ended.
    pub fn remember(&mut self, size_rad: f64) {
        if size_rad > LEAST_RAD {
            self.seen_rad.push_back(size_rad.min(MOST_RAD));
        }
        if self.seen_rad.len() > KEPT {
            self.seen_rad.pop_front();
        }
    }

    /// Density in log size, not normalised. `usual_rad` is the median of turns proper.
    fn density(&self, size_rad: f64, usual_rad: f64) -> f64 {
        let prior = CORRECTIONS * log_logistic(size_rad / CORRECTION_RAD)
            + (1.0 - CORRECTIONS) * log_logistic(size_rad / usual_rad);
        let own: f64 = self
            .seen_rad
            .iter()
            .map(|seen| normal((size_rad / seen).ln() / LIKE) / LIKE)
            .sum();
        PRIOR_TURNS * prior + own
    }

    /// What is left of the turn.
    pub fn left(&self, now: SoFar, usual_rad: f64) -> Quantiles {
        // Who circles begins anew.
        let turned_rad = now.turned_rad.rem_euclid(MOST_RAD);
        let step = (MOST_RAD / LEAST_RAD).ln() / CLASSES as f64;
        let sd = RATE_SHARE_SD.hypot(now.share_sd);
        let coming_rad = now.coming_rad.max(1e-3);
        // Bounds of what is left, and weight, of each class.
        let mut classes = [(0.0, 0.0, 0.0); CLASSES];
        let mut total = 0.0;
        for (i, class) in classes.iter_mut().enumerate() {
            let upper = LEAST_RAD * (step * (i as f64 + 1.0)).exp();
            let lower = (LEAST_RAD * (step * i as f64).exp()).max(turned_rad);
            if upper <= lower {
                continue;
            }
            let middle = (lower * upper).sqrt();
            let share = ((middle - turned_rad + now.since_rad) / coming_rad).min(1.0);
            let weight = self.density(middle, usual_rad)
                * (upper / lower).ln()
                * normal((now.rate_share - share) / sd);
            *class = (lower - turned_rad, upper - turned_rad, weight);
            total += weight;
        }
        quantiles(&classes, total)
    }
}

/// Quantiles of classes within which everything is equally likely.
fn quantiles(classes: &[(f64, f64, f64)], total: f64) -> Quantiles {
    let mut left = Quantiles::default();
    let last = left.len() - 1;
    let (mut below, mut place) = (0.0, 0);
    for (i, quantile) in left.iter_mut().enumerate() {
        // Not quite the least and the most, which are only those of the classes.
        let wanted = total * (i as f64 / last as f64).clamp(0.002, 0.998);
        while place + 1 < classes.len() && below + classes[place].2 < wanted {
            below += classes[place].2;
            place += 1;
        }
        let (lower, upper, weight) = classes[place];
        let share = if weight > 0.0 {
            ((wanted - below) / weight).clamp(0.0, 1.0)
        } else {
            0.0
        };
        *quantile = lower + share * (upper - lower);
    }
    left
}

/// Density in log size of a log-logistic size with median 1.
fn log_logistic(size: f64) -> f64 {
    let x = (-size.ln() / LOG_SCALE).exp();
    x / ((1.0 + x) * (1.0 + x) * LOG_SCALE)
}

fn normal(z: f64) -> f64 {
    (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turning(turned_deg: f64, rate_share: f64) -> SoFar {
        SoFar {
            turned_rad: turned_deg.to_radians(),
            // 4 deg/s and 2 s.
            coming_rad: 8f64.to_radians(),
            rate_share,
            share_sd: 0.1,
            since_rad: 0.0,
        }
    }

    fn median_deg(sizes: &Sizes, now: SoFar) -> f64 {
        sizes.left(now, 60f64.to_radians())[10].to_degrees()
    }

    #[test]
    fn quantiles_rise_and_never_go_back() {
        for turned_deg in [0.0, 5.0, 40.0, 170.0, 355.0, 800.0] {
            for rate_share in [-1.0, 0.0, 0.5, 1.0] {
                let left = Sizes::default().left(turning(turned_deg, rate_share), 1.0);
                assert!(left[0] >= 0.0 && left[20] < 2.0 * MOST_RAD);
                assert!(left.windows(2).all(|pair| pair[0] <= pair[1]), "{left:?}");
                assert!(left.iter().all(|rad| rad.is_finite()));
            }
        }
    }

    #[test]
    fn a_rate_that_falls_off_says_that_little_is_left() {
        let sizes = Sizes::default();
        let (full, half, none) = (
            median_deg(&sizes, turning(20.0, 1.0)),
            median_deg(&sizes, turning(20.0, 0.5)),
            median_deg(&sizes, turning(20.0, 0.0)),
        );
        // R T is 8 degrees: half the rate leaves about 4 of them, none leaves none.
        assert!(full > 20.0, "{full}");
        assert!((2.0..12.0).contains(&half), "{half}");
        assert!(none < 3.0, "{none}");
    }

    #[test]
    fn own_turns_replace_the_prior() {
        let mut sizes = Sizes::default();
        let before = median_deg(&sizes, turning(6.0, 1.0));
        for _ in 0..20 {
            sizes.remember(14f64.to_radians());
        }
        let after = median_deg(&sizes, turning(6.0, 1.0));
        assert!(before > 25.0 && after < 12.0, "{before} {after}");
        // Further than ever before: the prior's large turns are left.
        assert!(median_deg(&sizes, turning(30.0, 1.0)) > 15.0);
    }

    #[test]
    fn without_evidence_the_median_is_the_mixture_s() {
        // Own arithmetic: the large kind alone has its median at 60 degrees; 30 % of corrections
        // take it down to the quantile (0.5 - 0.3) / 0.7 = 0.286 of that kind, which is
        // 60 (0.286 / 0.714)^0.35 = 43.5 degrees.
        let now = SoFar {
            turned_rad: 0.0,
            coming_rad: 0.0,
            rate_share: 1.0,
            share_sd: 0.0,
            since_rad: 0.0,
        };
        let median = median_deg(&Sizes::default(), now);
        assert!((median - 43.5).abs() < 2.5, "{median}");
    }
}
