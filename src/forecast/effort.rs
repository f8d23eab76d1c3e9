//! How much of a forecast is computed when the computer is short of time.
//!
//! In: how many futures there is time for. Out: the size of each part of the forecast. All parts
//! scale with the number of futures.

use super::settings::ForecastSettings;

/// The fewest futures from which a chance can be estimated, in steps of 6 in 100.
pub const LEAST_FUTURES: usize = 16;

/// How many futures a forecast may be made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    futures: usize,
}

impl Effort {
    /// All that the settings ask for.
    pub const FULL: Self = Self {
        futures: usize::MAX,
    };

    /// No more than so many futures, at least [`LEAST_FUTURES`].
    #[must_use]
    pub fn of(futures: usize) -> Self {
        Self {
            futures: futures.max(LEAST_FUTURES),
        }
    }

    /// How many of `wanted` futures are made.
    #[must_use]
    pub fn futures(self, wanted: usize) -> usize {
        wanted.min(self.futures)
    }

    /// The share of the full work.
    pub(super) fn share(self, settings: &ForecastSettings) -> f64 {
        self.futures(settings.futures) as f64 / settings.futures.max(1) as f64
    }

    /// Number of futures for a part of the work that uses `wanted` of them at full effort.
    pub(super) fn part(self, wanted: usize, settings: &ForecastSettings) -> usize {
        /// A plan cannot be judged with fewer.
        const LEAST: usize = 3;
        ((wanted as f64 * self.share(settings)).ceil() as usize).clamp(LEAST.min(wanted), wanted)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_part_shrinks_with_the_futures() {
        let settings = ForecastSettings::default();
        let full = settings.futures;
        assert_eq!(Effort::FULL.futures(full), full);
        assert_eq!(Effort::FULL.part(32, &settings), 32);
        assert_eq!(Effort::of(full / 4).futures(full), full / 4);
        assert_eq!(Effort::of(full / 4).part(32, &settings), 8);
        assert_eq!(Effort::of(full / 4).part(8, &settings), 3);
        assert_eq!(Effort::of(1).futures(full), LEAST_FUTURES);
        assert_eq!(Effort::of(1).futures(4), 4);
    }
}
