//! Chances against outcomes: Brier score and reliability table, as additive sums.

use serde::Serialize;
use utoipa::ToSchema;

/// Width of a bin is 1 / this.
const BINS: usize = 10;

/// Samples from which a bin is not thin.
pub(super) const POPULATED: u64 = 30;

/// Sums over samples.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reliability {
    samples: u64,
    came: u64,
    squares: f64,
    bins: [BinSums; BINS],
}

#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct BinSums {
    samples: u64,
    came: u64,
    chances: f64,
}

/// One bin of the table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
#[schema(as = ReliabilityBin)]
pub struct Bin {
    /// Lower edge, percent.
    pub from_percent: u32,
    /// Samples in it.
    pub samples: u64,
    /// Mean of their chances.
    pub mean_chance: f64,
    /// Observed frequency.
    pub observed: f64,
    /// Observed frequency minus mean chance.
    pub gap: f64,
    /// Fewer than 30 samples.
    pub thin: bool,
}

impl Reliability {
    /// Adds one sample; a chance outside 0 to 1 is clamped.
    pub fn add(&mut self, chance: f64, came: bool) {
        let chance = if chance.is_nan() {
            0.0
        } else {
            chance.clamp(0.0, 1.0)
        };
        let outcome = f64::from(u8::from(came));
        self.samples += 1;
        self.came += u64::from(came);
        self.squares += (chance - outcome).powi(2);
        // A chance of 0.3 made of tenths may lie a rounding error below its bin.
        let index = ((chance * BINS as f64 + 1e-9) as usize).min(BINS - 1);
        if let Some(bin) = self.bins.get_mut(index) {
            bin.samples += 1;
            bin.came += u64::from(came);
            bin.chances += chance;
        }
    }

    /// Adds the samples of another.
    pub fn merge(&mut self, other: &Self) {
        self.samples += other.samples;
        self.came += other.came;
        self.squares += other.squares;
        for (bin, more) in self.bins.iter_mut().zip(&other.bins) {
            bin.samples += more.samples;
            bin.came += more.came;
            bin.chances += more.chances;
        }
    }

    /// How many.
    #[must_use]
    pub fn samples(&self) -> u64 {
        self.samples
    }

    /// Brier score; `None` without samples.
    #[must_use]
    pub fn brier(&self) -> Option<f64> {
        (self.samples > 0).then(|| self.squares / self.samples as f64)
    }

    /// Base rate; `None` without samples.
    #[must_use]
    pub fn base_rate(&self) -> Option<f64> {
        (self.samples > 0).then(|| self.came as f64 / self.samples as f64)
    }

    /// Brier skill relative to the base rate; `None` when the base rate is 0 or 1.
    #[must_use]
    pub fn skill(&self) -> Option<f64> {
        let rate = self.base_rate()?;
        let reference = rate * (1.0 - rate);
        (reference > 0.0).then(|| 1.0 - self.squares / self.samples as f64 / reference)
    }

    /// Bins that hold samples, in order.
    #[must_use]
    pub fn bins(&self) -> Vec<Bin> {
        self.bins
            .iter()
            .zip(0..)
            .filter(|(bin, _)| bin.samples > 0)
            .map(|(bin, index): (&BinSums, u32)| {
                let count = bin.samples as f64;
                let (mean_chance, observed) = (bin.chances / count, bin.came as f64 / count);
                Bin {
                    from_percent: index * (100 / BINS as u32),
                    samples: bin.samples,
                    mean_chance,
                    observed,
                    gap: observed - mean_chance,
                    thin: bin.samples < POPULATED,
                }
            })
            .collect()
    }
}
