//! Decides when a picture is made and what it may cost, so that a slow computer shows a coarser
//! picture in time rather than a full one too late.
//!
//! In: the moments at which a picture is wanted, begun and shown, on one clock. Out: what there is
//! time for. The rules:
//!
//! - One picture is made at a time. What is wanted meanwhile is one picture afterwards, of all that
//!   has arrived by then: a picture that would be overtaken is never begun.
//! - The number of futures halves or doubles so that a picture takes about [`TARGET_S`]. While a pass
//!   is planned, its plan has its share of that time: fewer futures do not make it cheaper.
//! - When what people see is older than [`LATE_S`], pictures are made without a forecast for a
//!   while ([`Means::TooSlow`]); then forecasts are tried again with the fewest futures. Each failure
//!   doubles that time.

use crate::engine::{LATE_S, Means, Work};
use crate::forecast::{Effort, LEAST_FUTURES};
use crate::time::Millis;

/// Time that a picture with its forecast may take: with another before it, it is then at most
/// twice as old when it is shown, well within [`LATE_S`].
const TARGET_S: f64 = 0.8;
/// Futures of the first forecast, when nobody knows yet how fast the computer is.
const FIRST_FUTURES: usize = 2 * LEAST_FUTURES;
/// More than any settings ask for.
const MOST_FUTURES: usize = 4096;
/// Share of the difference by which a cheap forecast lowers the estimated cost: the next one may
/// have a plan to search.
const CHEAPER_SHARE: f64 = 0.2;
/// A pass that was planned so lately will be planned again.
const PASS_AGAIN_S: f64 = 15.0;
/// First and longest time without forecasts before they are tried again.
const FIRST_REST_S: f64 = 5.0;
const LONGEST_REST_S: f64 = 60.0;
/// In time for so long, the computer is not called slow any more.
const KEPT_UP_S: f64 = 30.0;

/// See the head of the file.
#[derive(Debug)]
pub(super) struct Governor {
    /// A picture is wanted.
    wanted: bool,
    /// The moment of the picture being made.
    making: Option<Millis>,
    /// The moment of the picture that is shown.
    shown: Option<Millis>,
    futures: usize,
    /// Estimated cost of one future with its share of everything else but a pass, seconds.
    cost_s: f64,
    /// Estimated cost of planning a pass, seconds, and until when one is expected.
    pass_s: f64,
    pass_until: Option<Millis>,
    rest_s: f64,
    /// No forecast before this moment.
    rest_until: Option<Millis>,
    /// Since when all has been in time.
    in_time_since: Option<Millis>,
}

impl Governor {
    pub fn new() -> Self {
        Self {
            wanted: false,
            making: None,
            shown: None,
            futures: FIRST_FUTURES,
            cost_s: 0.0,
            pass_s: 0.0,
            pass_until: None,
            rest_s: FIRST_REST_S,
            rest_until: None,
            in_time_since: None,
        }
    }

    /// A picture is wanted.
    pub fn want(&mut self) {
        self.wanted = true;
    }

    /// What there is time for in the picture of `at` to be begun now; `None` when none is wanted
    /// or one is being made.
    pub fn begin(&mut self, at: Millis) -> Option<Means> {
        if !self.wanted || self.making.is_some() {
            return None;
        }
        self.wanted = false;
        self.making = Some(at);
        Some(if self.rest_until.is_some_and(|until| at < until) {
            Means::TooSlow
        } else {
            Means::Forecast(Effort::of(self.futures))
        })
    }

    /// The picture that was begun is shown now, at `now`, with this work in it.
    pub fn done(&mut self, now: Millis, work: Work) {
        let Some(at) = self.making.take() else { return };
        let oldest_s = now.seconds_since(self.shown.unwrap_or(at));
        self.shown = Some(at);
        let took_s = now.seconds_since(at);
        let known_s = work.futures.unwrap_or(0) as f64 * self.cost_s;
        match work.futures {
            _ if work.pass => {
                self.pass_s = estimate(self.pass_s, (took_s - known_s).max(0.0));
                self.pass_until = Some(now.plus_seconds(PASS_AGAIN_S));
            }
            Some(futures) => self.cost_s = estimate(self.cost_s, took_s / futures.max(1) as f64),
            None => {}
        }
        if work.futures.is_some() {
            self.choose_futures(now);
        }
        if oldest_s <= LATE_S {
            let since = *self.in_time_since.get_or_insert(now);
            if self.rest_until.is_none_or(|until| now >= until)
                && now.seconds_since(since) >= self.rest_s + KEPT_UP_S
            {
                self.rest_s = FIRST_REST_S;
                self.rest_until = None;
            }
            return;
        }
        self.in_time_since = None;
        self.futures = LEAST_FUTURES;
        // Being late once more before a rest is over is no news.
        if self.rest_until.is_none_or(|until| at >= until) {
            if self.rest_until.is_some() {
                self.rest_s = (2.0 * self.rest_s).min(LONGEST_REST_S);
            }
            self.rest_until = Some(now.plus_seconds(self.rest_s));
        }
    }

    /// Chooses the futures by what one of them, and a plan, has cost.
    fn choose_futures(&mut self, now: Millis) {
        let planning = self.pass_until.is_some_and(|until| now < until);
        let pass_s = if planning { self.pass_s } else { 0.0 };
        let takes_s = |futures: usize| futures as f64 * self.cost_s + pass_s;
        while self.futures > LEAST_FUTURES && takes_s(self.futures) > TARGET_S {
            self.futures /= 2;
        }
        if self.futures < MOST_FUTURES && takes_s(2 * self.futures) < TARGET_S {
            self.futures *= 2;
        }
    }
}

/// The estimate of a cost after it has been seen again.
fn estimate(before_s: f64, seen_s: f64) -> f64 {
    if seen_s > before_s {
        seen_s
    } else {
        before_s + CHEAPER_SHARE * (seen_s - before_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(t: f64) -> Millis {
        Millis(0).plus_seconds(t)
    }

    fn futures(means: Option<Means>) -> usize {
        match means {
            Some(Means::Forecast(effort)) => effort.futures(usize::MAX),
            other => panic!("no forecast: {other:?}"),
        }
    }

    fn forecast(futures: Option<usize>) -> Work {
        Work {
            futures,
            pass: false,
        }
    }

    /// Pictures wanted every second of a computer on which a future costs so much, from `from` on
    /// for `over_s`; gives the greatest age of what was shown and the number of withdrawn pictures.
    fn run(governor: &mut Governor, from: f64, over_s: f64, cost_s: f64) -> (f64, usize) {
        let (mut now, mut shown, mut oldest, mut withdrawn) = (from, from, 0.0_f64, 0);
        while now < from + over_s {
            governor.want();
            let at = now;
            let means = governor.begin(s(at)).expect("idle");
            let made = match means {
                Means::Forecast(effort) => Some(effort.futures(128)),
                Means::TooSlow => None,
            };
            now += made.map_or(0.01, |futures| futures as f64 * cost_s);
            governor.done(s(now), forecast(made));
            oldest = oldest.max(now - shown);
            withdrawn += usize::from(made.is_none());
            shown = at;
            now = now.max(at + 1.0);
        }
        (oldest, withdrawn)
    }

    #[test]
    fn what_is_wanted_while_one_is_made_is_one_afterwards() {
        let mut governor = Governor::new();
        assert_eq!(governor.begin(s(0.0)), None);
        governor.want();
        assert!(governor.begin(s(0.0)).is_some());
        for _ in 0..1000 {
            governor.want();
            assert_eq!(governor.begin(s(0.5)), None);
        }
        governor.done(s(0.6), forecast(Some(32)));
        assert!(governor.begin(s(0.6)).is_some());
        governor.done(s(0.7), forecast(Some(32)));
        assert_eq!(governor.begin(s(0.8)), None);
    }

    #[test]
    fn a_fast_computer_makes_them_all() {
        let mut governor = Governor::new();
        // 344 ms for 128 futures, as measured on one core of the machine this was written on.
        let (oldest, withdrawn) = run(&mut governor, 0.0, 60.0, 0.344 / 128.0);
        assert!(oldest < 1.5 && withdrawn == 0);
        governor.want();
        assert!(futures(governor.begin(s(60.0))) >= 128);
    }

    #[test]
    fn a_quarter_of_it_makes_fewer_in_time() {
        let mut governor = Governor::new();
        run(&mut governor, 0.0, 60.0, 0.344 / 128.0);
        let (oldest, withdrawn) = run(&mut governor, 60.0, 60.0, 4.0 * 0.344 / 128.0);
        assert!(oldest <= LATE_S && withdrawn == 0, "{oldest}, {withdrawn}");
        governor.want();
        assert_eq!(futures(governor.begin(s(130.0))), 64);
        governor.done(s(130.1), forecast(None));
        // With time again there are all again.
        run(&mut governor, 131.0, 30.0, 0.344 / 128.0);
        governor.want();
        assert!(futures(governor.begin(s(170.0))) >= 128);
    }

    #[test]
    fn one_that_cannot_withdraws_and_tries_ever_more_seldom() {
        let mut governor = Governor::new();
        let hopeless_s = 4.0 / LEAST_FUTURES as f64;
        let (_, first) = run(&mut governor, 0.0, 60.0, hopeless_s);
        assert!(first >= 35, "{first} of 60 without a forecast");
        let (_, later) = run(&mut governor, 60.0, 600.0, hopeless_s);
        assert!(later >= 540, "{later} of 600");
        // A computer that keeps up is soon trusted again.
        let (oldest, withdrawn) = run(&mut governor, 700.0, 100.0, 0.001);
        assert!(withdrawn <= 60 && oldest < LATE_S, "{withdrawn}, {oldest}");
        let (_, withdrawn) = run(&mut governor, 800.0, 60.0, 0.001);
        assert_eq!(withdrawn, 0);
        run(&mut governor, 860.0, 10.0, hopeless_s);
        assert!((governor.rest_s - FIRST_REST_S).abs() < 1e-9);
    }

    #[test]
    fn a_plan_has_its_share_and_does_not_take_the_futures() {
        // Invented: half the speed of the machine this was written on, and a plan of 0.5 s.
        let (cost_s, plan_s) = (2.0 * 0.344 / 128.0, 0.5);
        let mut governor = Governor::new();
        run(&mut governor, 0.0, 60.0, cost_s);
        let mut fewest = usize::MAX;
        for second in 0..120 {
            let at = 60.0 + f64::from(second);
            governor.want();
            let made = futures(governor.begin(s(at))).min(128);
            let pass = second % 10 == 0;
            let took_s = made as f64 * cost_s + if pass { plan_s } else { 0.0 };
            governor.done(
                s(at + took_s),
                Work {
                    futures: Some(made),
                    pass,
                },
            );
            if second > 0 {
                fewest = fewest.min(made);
                assert!(took_s < 0.85, "{second}: {made} futures, {took_s:.2} s");
            }
        }
        // As many as there is time for beside the plan, however often it is made.
        assert_eq!(fewest, 32);
        assert!(32.0 * cost_s + plan_s < TARGET_S && 64.0 * cost_s + plan_s > TARGET_S);
        // Without a pass there are all again.
        run(&mut governor, 200.0, 30.0, cost_s);
        governor.want();
        assert_eq!(futures(governor.begin(s(240.0))), 128);
    }
}
