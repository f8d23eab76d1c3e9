//! Judges a course: flown by several of the rigs that may be the true one.
//! In: the moment, a course. Out: chances and the middle of the flights. Changes nothing.

use rayon::prelude::*;

use super::course::Course;
use super::fly::{Flown, fly};
use super::situation::Situation;

/// The bait is over the mark when it passes so near, m.
pub const NEAR_M: f64 = 15.0;
/// From this chance on a pass is called likely, and from the lower one on it is offered at all.
pub const LIKELY: f64 = 0.9;
/// See there.
pub const OFFERED: f64 = 0.5;
/// None is offered on which the kite comes down in a larger share of the futures: that is worse than a
/// mark missed. Of ten that were flown in spite of it two were kept, where six were promised.
pub const MOST_DOWN: f64 = 0.1;
/// A chance that is higher by less than this is not worth a minute.
const PER_MINUTE: f64 = 0.04;
/// Rigs that judge when a course is chosen, those of the first round among them.
pub const CHOOSERS: usize = 24;
const FIRST: usize = 6;
/// Rigs that a plan needs: whoever chooses the best of several is too fond of it, so the others tell its
/// chance.
pub const JUDGES: usize = 3 * CHOOSERS;
/// What corrections leave beyond what the futures show, m, one standard deviation; and of the futures in
/// which the bait flies or drags, the share that a crew mends who sees it (own judgement).
const LEFT_M: f64 = 4.0;
const MENDED: f64 = 0.5;

/// How the rigs fly one course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// Chance that the bait passes within [`NEAR_M`] of the place that is marked, and skips.
    pub chance: f64,
    /// The same of what is marked, whose place is uncertain.
    pub chance_of_marked: f64,
    /// Chance that it skips, wherever it passes.
    pub skips: f64,
    /// Distance at which it passes, + where the mark lies to starboard of its way: the middle.
    pub cross_m: f64,
    /// Middle of the closest approaches.
    pub closest_m: f64,
    /// When, s from now.
    pub at_s: f64,
    /// How the bait hangs there: the mean of [`Flown::high`].
    pub high: f64,
    /// Share in which the kite comes down on the way.
    pub comes_down: f64,
    /// Share in which a line comes too near to the boat.
    pub fouls: f64,
}

impl Judged {
    /// Whether it may be offered.
    #[must_use]
    pub fn is_to_offer(&self) -> bool {
        self.chance >= OFFERED && self.comes_down <= MOST_DOWN
    }

    /// What it is worth, as a chance, when it takes so long.
    pub(super) fn worth(&self, takes_s: f64) -> f64 {
        self.chance - self.comes_down - PER_MINUTE * takes_s / 60.0
    }
}

/// Which of the rigs judge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Panel {
    /// A few of the choosers.
    First,
    /// One in three.
    Choosers,
    /// The others; where there are none, the choosers.
    Tellers,
}

impl Panel {
    /// Its members among so many rigs, by number.
    fn of(self, rigs: usize) -> Vec<usize> {
        let some = |count: usize| {
            let count = count.min(rigs);
            (0..count).map(move |k| (2 * k + 1) * rigs / (2 * count))
        };
        match self {
            Self::First => some(CHOOSERS).step_by(CHOOSERS / FIRST).collect(),
            Self::Choosers => some(CHOOSERS).collect(),
            Self::Tellers if rigs <= CHOOSERS => Self::Choosers.of(rigs),
            Self::Tellers => {
                let choosers = Self::Choosers.of(rigs);
                (0..rigs).filter(|i| !choosers.contains(i)).collect()
            }
        }
    }
}

/// Flies a course with these of the rigs. `about_s` is when the bait should be there.
#[must_use]
pub fn judge(sit: &Situation<'_>, course: &Course, about_s: f64, panel: Panel) -> Judged {
    let all = &sit.rigs.all;
    let flown: Vec<Flown> = (panel.of(all.len()).into_par_iter())
        .map(|i| fly(sit, &all[i], course, about_s))
        .collect();
    judged(sit, &flown)
}

fn judged(sit: &Situation<'_>, flown: &[Flown]) -> Judged {
    let n = flown.len().max(1) as f64;
    let mean = |of: &dyn Fn(&Flown) -> f64| flown.iter().map(of).sum::<f64>() / n;
    let near = |one: &Flown, sigma: f64| {
        let upto = |m: f64| normal_share((m - one.miss_m) / sigma);
        upto(NEAR_M) - upto(-NEAR_M)
    };
    // The crew sees a bait that flies or drags on the way, and trims it.
    let skips = |one: &Flown| {
        if one.skips() {
            1.0
        } else if one.ended || one.foul {
            0.0
        } else {
            MENDED
        }
    };
    let of_place = mean(&|one| skips(one) * near(one, LEFT_M));
    let of_marked =
        mean(&|one| skips(one) * near(one, LEFT_M.hypot(sit.target.sigma_at_m(one.at_s))));
    let chance = of_few(of_place, n);
    Judged {
        chance,
        chance_of_marked: if of_place > 0.0 {
            chance * of_marked / of_place
        } else {
            0.0
        },
        skips: of_few(mean(&skips), n),
        cross_m: middle(flown.iter().map(|one| one.cross_m)),
        closest_m: middle(flown.iter().map(|one| one.miss_m)),
        at_s: middle(flown.iter().map(|one| one.at_s)),
        high: mean(&|one| one.high),
        comes_down: mean(&|one| f64::from(u8::from(one.ended))),
        fouls: mean(&|one| f64::from(u8::from(one.foul))),
    }
}

/// Of so few futures none and all are not never and always.
fn of_few(share: f64, n: f64) -> f64 {
    (share * n + 0.25) / (n + 0.5)
}

fn middle(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.filter(|value| value.is_finite()).collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// Share of a normal distribution below `z`: the logistic approximation of Bowling and others 2009
/// (from memory), within 0.00014.
fn normal_share(z: f64) -> f64 {
    1.0 / (1.0 + (-(0.07056 * z * z * z + 1.5976 * z)).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_chooses_does_not_tell() {
        let (choosers, tellers) = (Panel::Choosers.of(JUDGES), Panel::Tellers.of(JUDGES));
        assert_eq!((choosers.len(), tellers.len()), (CHOOSERS, 2 * CHOOSERS));
        assert!(choosers.iter().all(|i| !tellers.contains(i)));
        let first = Panel::First.of(JUDGES);
        assert_eq!(first.len(), FIRST);
        assert!(first.iter().all(|i| choosers.contains(i)));
        // Of few everybody does everything.
        for few in [0, 1, 10, CHOOSERS] {
            assert_eq!(Panel::Choosers.of(few), (0..few).collect::<Vec<_>>());
            assert_eq!(Panel::Tellers.of(few), Panel::Choosers.of(few));
        }
    }

    #[test]
    fn shares_of_the_normal_distribution() {
        // Printed table of the standard normal distribution (from memory): 0.8413 at 1, 0.9772 at 2.
        for (z, share) in [(0.0, 0.5), (1.0, 0.8413), (2.0, 0.9772), (-1.0, 0.1587)] {
            assert!((normal_share(z) - share).abs() < 3e-4, "{z}");
        }
    }
}
