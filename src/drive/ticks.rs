//! Whole-second ticks, the same ones live and in replay.

use crate::time::Millis;

/// A jump longer than this is another day's recording, not silence: no ticks fill it.
const LONGEST_FILLED_GAP_MS: i64 = 24 * 3600 * 1000;

/// Says which whole seconds have passed.
#[derive(Debug, Clone, Copy, Default)]
pub struct Ticks {
    /// The last second given, in whole seconds of Unix time.
    last: Option<i64>,
}

impl Ticks {
    /// Whole seconds after the last one given, up to and including `at`. The first call only
    /// sets the start, so that live and replay begin alike.
    pub fn due(&mut self, at: Millis) -> impl Iterator<Item = Millis> + use<> {
        let now = at.0.div_euclid(1000);
        let first = match self.last {
            Some(last) if (now - last) * 1000 <= LONGEST_FILLED_GAP_MS => last + 1,
            _ => now + 1,
        };
        self.last = Some(self.last.map_or(now, |last| last.max(now)));
        (first..=now).map(|second| Millis(second * 1000))
    }

    /// The next whole second after `at`.
    #[must_use]
    pub fn next_after(at: Millis) -> Millis {
        Millis((at.0.div_euclid(1000) + 1) * 1000)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn due(ticks: &mut Ticks, at: i64) -> Vec<i64> {
        ticks.due(Millis(at)).map(|t| t.0).collect()
    }

    #[test]
    fn every_second_once_and_never_back() {
        let mut ticks = Ticks::default();
        assert_eq!(due(&mut ticks, 10_400), Vec::<i64>::new());
        assert_eq!(due(&mut ticks, 10_999), Vec::<i64>::new());
        assert_eq!(due(&mut ticks, 13_000), vec![11_000, 12_000, 13_000]);
        assert_eq!(due(&mut ticks, 12_000), Vec::<i64>::new());
        assert_eq!(due(&mut ticks, 14_100), vec![14_000]);
    }

    #[test]
    fn a_jump_to_another_day_is_not_filled() {
        let mut ticks = Ticks::default();
        due(&mut ticks, 0);
        let far = LONGEST_FILLED_GAP_MS + 5_000;
        assert_eq!(due(&mut ticks, far), Vec::<i64>::new());
        assert_eq!(due(&mut ticks, far + 1_000), vec![far + 1_000]);
    }

    #[test]
    fn next_second() {
        assert_eq!(Ticks::next_after(Millis(1_000)), Millis(2_000));
        assert_eq!(Ticks::next_after(Millis(1_999)), Millis(2_000));
        assert_eq!(Ticks::next_after(Millis(-1)), Millis(0));
    }
}
