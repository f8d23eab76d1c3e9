//! A quantity that varies on several time scales at once: how it has varied lately, which part of
//! its present departure belongs to which scale, and so how it may continue.
//!
//! **Model.** The quantity is a level plus three first-order (Ornstein-Uhlenbeck) parts with fixed
//! correlation times. The level is a random walk: shifts that stay. Each reading also has white
//! noise, which takes in what is quicker than the quickest part, such as the motion of a masthead in
//! a seaway.
//!
//! **Variances** are learnt from the structure function, the mean square change over a lag
//! (A. N. Kolmogorov, 1941), at five lags. It is followed twice, over the last minutes and over the
//! last hours; both begin as the prior. Their weighted geometric mean is fitted with non-negative
//! variances, drawn a little toward the prior.
//!
//! **Restlessness.** Air that is quiet over ten seconds is quiet over minutes, too. So what the prior
//! says of a lag that was seldom seen yet is scaled by one factor: the geometric mean of what the
//! middle lags showed against what the prior says of them, each counted by how often it was seen.
//!
//! **Parts.** A Kalman filter with these variances holds the level and the three parts with their
//! covariance.

use crate::time::Millis;

/// Square of a degree, for the laws of angles.
pub const DEG2: f64 = (std::f64::consts::PI / 180.0) * (std::f64::consts::PI / 180.0);
/// First-order parts.
pub const SCALES: usize = 3;
/// These and the level, which comes last.
pub const PARTS: usize = SCALES + 1;

/// Lags of the structure function, seconds, and how long each is followed.
const LAGS: [usize; 5] = [1, 3, 10, 30, 100];
const LATELY_S: [f64; 5] = [80.0, 150.0, 200.0, 300.0, 500.0];
/// How long the structure of the last hours is followed, and for how much the prior counts in it.
const LONG_S: f64 = 7200.0;
const PRIOR_S: f64 = 300.0;
/// Lags that say how restless a quantity is: a damped or a coarse sensor hides or adds quicker
/// changes.
const TELLING: std::ops::Range<usize> = 1..4;
/// So many independent changes count as much as the prior's own restlessness.
const PRIOR_CHANGES: f64 = 4.0;
/// Restlessness over seconds tells of that over minutes in part only: the logarithm counts for so
/// much. With the whole of it the bands two minutes ahead held too little along the coast.
const LASTS: f64 = 0.6;
/// Weight of the last minutes against the last hours.
const LATELY: f64 = 0.7;
/// A single square counts for no more than so many times the mean: a jump is not the rule.
const CUT: f64 = 16.0;
/// Weight of the prior variances in the fit, where each lag counts 1.
const PULL: f64 = 0.01;
const SWEEPS: usize = 20;
/// Seconds kept for the lags.
const KEPT: usize = 128;
/// Readings nearer than this are one.
const LEAST_S: f64 = 0.8;
/// After a longer silence the parts are forgotten; what was learnt of their variances is kept.
const SILENCE_S: f64 = 60.0;

/// Correlation times and prior variances of one quantity.
#[derive(Debug)]
pub struct Law {
    pub tau_s: [f64; SCALES],
    /// Variance of a reading's noise.
    pub noise: f64,
    pub variance: [f64; SCALES],
    /// Variance that the level gains in a second: this share of the slowest part's, and at least so
    /// much.
    pub walk_share: f64,
    pub walk_least: f64,
}

impl Law {
    /// Mean square change over a lag that each variance adds: the noise's, then each part's.
    fn structure(&self, lag_s: f64) -> [f64; PARTS] {
        let mut of = [2.0; PARTS];
        for (of, tau_s) in of[1..].iter_mut().zip(self.tau_s) {
            *of = 2.0 * (1.0 - (-lag_s / tau_s).exp());
        }
        of[PARTS - 1] += self.walk_share * lag_s;
        of
    }

    fn prior(&self) -> [f64; PARTS] {
        let [a, b, c] = self.variance;
        [self.noise, a, b, c]
    }

    fn walk(&self, slowest: f64) -> f64 {
        self.walk_share * slowest + self.walk_least
    }
}

/// How a quantity may continue.
#[derive(Debug, Clone, Copy)]
pub struct Onward {
    pub tau_s: [f64; SCALES],
    /// Present parts and level.
    pub parts: [f64; PARTS],
    /// Lower triangular square root of their covariance.
    pub root: [[f64; PARTS]; PARTS],
    /// Variance of each part.
    pub variance: [f64; SCALES],
    /// Variance that the level gains in a second.
    pub walk: f64,
}

impl Onward {
    /// The same with a level less well known by this standard deviation.
    pub fn widened(mut self, sd: f64) -> Self {
        let own = &mut self.root[PARTS - 1][PARTS - 1];
        *own = own.hypot(sd);
        self
    }
}

/// Without the parts that pass within a minute: level and slowest part.
pub fn settled(parts: &[f64; PARTS]) -> f64 {
    parts[PARTS - 2] + parts[PARTS - 1]
}

/// A running mean that began as something else.
#[derive(Debug, Clone, Copy)]
struct Mean {
    /// Sum of what was seen, each by its weight.
    seen: f64,
    /// Weight of what it began as; what was seen has the rest.
    prior: f64,
}

impl Mean {
    const NOTHING: Self = Self {
        seen: 0.0,
        prior: 1.0,
    };

    fn add(&mut self, value: f64, weight: f64) {
        self.seen += (value - self.seen) * weight;
        self.prior -= self.prior * weight;
    }

    fn with(self, prior: f64) -> f64 {
        self.seen + self.prior * prior
    }
}

/// What has been learnt of one quantity, and its parts now.
#[derive(Debug, Clone)]
pub struct Scales {
    law: &'static Law,
    at: Millis,
    parts: [f64; PARTS],
    covariance: [[f64; PARTS]; PARTS],
    /// Variance of the noise, then of each part.
    variances: [f64; PARTS],
    /// Mean squares seen, and the weight that the prior still has beside them.
    lately: [Mean; LAGS.len()],
    long: [Mean; LAGS.len()],
    heard_s: f64,
    /// One reading a second, at the place of that second; NaN where there was none.
    kept: [f64; KEPT],
}

impl Scales {
    /// From the first reading.
    pub fn new(law: &'static Law, at: Millis, value: f64) -> Self {
        let prior = law.prior();
        let mut scales = Self {
            law,
            at,
            parts: [0.0; PARTS],
            covariance: [[0.0; PARTS]; PARTS],
            variances: prior,
            lately: [Mean::NOTHING; LAGS.len()],
            long: [Mean::NOTHING; LAGS.len()],
            heard_s: 0.0,
            kept: [f64::NAN; KEPT],
        };
        scales.restart(at, value);
        scales
    }

    /// Forgets the parts, but not what was learnt of their variances.
    pub fn restart(&mut self, at: Millis, value: f64) {
        self.at = at;
        self.parts = [0.0, 0.0, 0.0, value];
        let [_, a, b, c] = self.variances;
        self.covariance = [[0.0; PARTS]; PARTS];
        // A first reading is noise and all parts together.
        for (i, variance) in [a, b, c, a + b + c].into_iter().enumerate() {
            self.covariance[i][i] = variance;
        }
        self.kept = [f64::NAN; KEPT];
        self.kept[place(second(at))] = value;
    }

    /// Takes a reading in. Its value is unwrapped where it is an angle.
    pub fn follow(&mut self, at: Millis, value: f64) {
        let dt = at.seconds_since(self.at);
        if (0.0..LEAST_S).contains(&dt) || !value.is_finite() {
            return;
        }
        if !(0.0..SILENCE_S).contains(&dt) {
            self.restart(at, value);
            return;
        }
        let rows = LAGS.map(|lag| self.law.structure(lag as f64));
        let prior = rows.map(|row| dot(&row, &self.law.prior()));
        self.note(second(self.at), second(at), value, &prior);
        self.fit(&rows, &prior);
        self.predict(dt);
        self.correct(value);
        self.at = at;
    }

    /// Follows the structure function; `prior` is what the prior says of it.
    fn note(&mut self, before: i64, now: i64, value: f64, prior: &[f64; LAGS.len()]) {
        for missed in before + 1..now {
            self.kept[place(missed)] = f64::NAN;
        }
        self.kept[place(now)] = value;
        if now <= before {
            return;
        }
        let long_s = (PRIOR_S + self.heard_s).min(LONG_S);
        self.heard_s += 1.0;
        let restlessness = self.restlessness(prior);
        for (i, lag) in LAGS.into_iter().enumerate() {
            let change = value - self.kept[place(now - lag as i64)];
            if change.is_nan() {
                continue;
            }
            let square = (change * change).min(CUT * self.lately[i].with(restlessness * prior[i]));
            self.long[i].add(square, 1.0 / long_s);
            self.lately[i].add(square, 1.0 / LATELY_S[i]);
        }
    }

    /// Factor on the prior's variances; `prior` is the structure function that they make.
    fn restlessness(&self, prior: &[f64; LAGS.len()]) -> f64 {
        let (mut sum, mut weights) = (0.0, PRIOR_CHANGES);
        for i in TELLING {
            let seen = 1.0 - self.lately[i].prior;
            if seen < 1e-9 {
                continue;
            }
            let changes = seen * LATELY_S[i] / LAGS[i] as f64;
            let mean = (self.lately[i].seen / seen).max(1e-9 * prior[i]);
            sum += changes * (mean / prior[i]).ln();
            weights += changes;
        }
        (LASTS * sum / weights).exp()
    }

    /// Fits the variances: the likelihood of the mean squares seen, each taken as exponentially
    /// distributed about what the variances make it, by the multiplicative updates that keep them
    /// positive (C. Févotte, N. Bertin and J.-L. Durrieu, 2009, for the Itakura-Saito divergence;
    /// from memory). Least squares of relative errors would come out low wherever the five lags do
    /// not fit together: too much is wrong by more than its whole, too little never.
    fn fit(&mut self, rows: &[[f64; PARTS]; LAGS.len()], prior: &[f64; LAGS.len()]) {
        let restlessness = self.restlessness(prior);
        let structure = prior.map(|square| restlessness * square);
        let prior = self.law.prior().map(|variance| restlessness * variance);
        let seen: [f64; LAGS.len()] = std::array::from_fn(|i| {
            let (lately, long) = (
                self.lately[i].with(structure[i]),
                self.long[i].with(structure[i]),
            );
            (lately.powf(LATELY) * long.powf(1.0 - LATELY)).max(1e-12)
        });
        for _ in 0..SWEEPS {
            let mut more = prior.map(|prior| PULL * prior);
            let mut less = [PULL; PARTS];
            for j in 0..PARTS {
                more[j] /= self.variances[j] * self.variances[j];
                less[j] /= self.variances[j];
            }
            for (row, seen) in rows.iter().zip(seen) {
                let made = dot(row, &self.variances);
                for j in 0..PARTS {
                    more[j] += row[j] * seen / (made * made);
                    less[j] += row[j] / made;
                }
            }
            for j in 0..PARTS {
                let new = self.variances[j] * more[j] / less[j];
                self.variances[j] = new.max(1e-3 * prior[j]);
            }
        }
    }

    fn predict(&mut self, dt: f64) {
        let mut keep = [1.0; PARTS];
        let mut fresh = [self.law.walk(self.variances[PARTS - 1]) * dt; PARTS];
        for i in 0..SCALES {
            keep[i] = (-dt / self.law.tau_s[i]).exp();
            fresh[i] = (1.0 - keep[i] * keep[i]) * self.variances[i + 1];
        }
        for i in 0..PARTS {
            self.parts[i] *= keep[i];
            for j in 0..PARTS {
                self.covariance[i][j] *= keep[i] * keep[j];
            }
            self.covariance[i][i] += fresh[i];
        }
    }

    fn correct(&mut self, value: f64) {
        let gain: [f64; PARTS] = self.covariance.map(|row| row.iter().sum());
        let spread = gain.iter().sum::<f64>() + self.variances[0];
        let over = (value - self.parts.iter().sum::<f64>()) / spread;
        for i in 0..PARTS {
            self.parts[i] += gain[i] * over;
            for j in 0..PARTS {
                self.covariance[i][j] -= gain[i] * gain[j] / spread;
            }
        }
    }

    /// Present value.
    pub fn now(&self) -> f64 {
        self.parts.iter().sum()
    }

    /// Present value without the parts that pass within a minute.
    pub fn settled(&self) -> f64 {
        settled(&self.parts)
    }

    /// How it may continue.
    pub fn onward(&self) -> Onward {
        let [_, a, b, c] = self.variances;
        Onward {
            tau_s: self.law.tau_s,
            parts: self.parts,
            root: root(&self.covariance),
            variance: [a, b, c],
            walk: self.law.walk(c),
        }
    }
}

fn second(at: Millis) -> i64 {
    at.0.div_euclid(1000)
}

fn place(second: i64) -> usize {
    second.rem_euclid(KEPT as i64) as usize
}

fn dot(a: &[f64; PARTS], b: &[f64; PARTS]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Cholesky's lower triangle; directions without variance stay zero.
fn root(of: &[[f64; PARTS]; PARTS]) -> [[f64; PARTS]; PARTS] {
    let mut root = [[0.0; PARTS]; PARTS];
    for i in 0..PARTS {
        for j in 0..=i {
            let rest = of[i][j] - (0..j).map(|k| root[i][k] * root[j][k]).sum::<f64>();
            root[i][j] = if i == j {
                rest.max(0.0).sqrt()
            } else if root[j][j] > 1e-9 {
                rest / root[j][j]
            } else {
                0.0
            };
        }
    }
    root
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forecast::draws::Draws;

    /// Invented.
    static LAW: Law = Law {
        tau_s: [6.0, 30.0, 150.0],
        noise: 0.01,
        variance: [1.0, 1.0, 1.0],
        walk_share: 0.0,
        walk_least: 0.0,
    };

    fn at(t_s: usize) -> Millis {
        Millis(1_000_000_000_000 + 1000 * t_s as i64)
    }

    /// A quantity with these standard deviations of its three parts, for an hour or so.
    fn made(sd: [f64; SCALES], seed: u64) -> Vec<f64> {
        let mut draws = Draws::new(seed, 0);
        let mut parts = sd.map(|sd| sd * draws.normal());
        (0..4000)
            .map(|_| {
                for (i, part) in parts.iter_mut().enumerate() {
                    let keep = (-1.0 / LAW.tau_s[i]).exp();
                    *part = keep * *part + (1.0 - keep * keep).sqrt() * sd[i] * draws.normal();
                }
                parts.iter().sum::<f64>() + 0.1 * draws.normal()
            })
            .collect()
    }

    fn followed(values: &[f64]) -> Scales {
        let mut scales = Scales::new(&LAW, at(0), values[0]);
        for (i, value) in values.iter().enumerate().skip(1) {
            scales.follow(at(i), *value);
        }
        scales
    }

    #[test]
    fn changes_over_every_lag_are_learnt() {
        // Means over many records: one record holds few independent minutes.
        for sd in [[3.0, 0.3, 0.3], [0.5, 2.0, 0.5], [0.3, 0.3, 4.0]] {
            let mut mean = [0.0; PARTS];
            for seed in 0..20 {
                let learnt = followed(&made(sd, seed)).variances;
                for (mean, learnt) in mean.iter_mut().zip(learnt) {
                    *mean += learnt / 20.0;
                }
            }
            let truth = [0.01, sd[0] * sd[0], sd[1] * sd[1], sd[2] * sd[2]];
            // Few independent changes over 100 s are within what is followed: the fit of relative
            // errors then comes out low.
            for (lag_s, least) in [(3.0, 0.75), (10.0, 0.75), (30.0, 0.75), (100.0, 0.5)] {
                let row = LAW.structure(lag_s);
                let ratio = dot(&row, &mean) / dot(&row, &truth);
                assert!((least..1.3).contains(&ratio), "{sd:?}, {lag_s} s: {ratio}");
            }
        }
    }

    #[test]
    fn a_step_that_stays_becomes_the_level() {
        let mut values = made([0.2, 0.2, 0.2], 3);
        for value in &mut values[3000..] {
            *value += 8.0;
        }
        let scales = followed(&values);
        assert!((scales.settled() - 8.0).abs() < 1.0, "{:?}", scales.parts);
    }

    #[test]
    fn silence_forgets_the_parts_but_not_the_variances() {
        let mut scales = followed(&made([3.0, 0.3, 0.3], 1));
        let before = scales.onward().variance;
        scales.follow(at(5000), 20.0);
        assert_eq!(scales.onward().variance, before);
        assert_eq!(scales.now(), 20.0);
    }

    #[test]
    fn the_root_gives_the_covariance_back() {
        let covariance = followed(&made([1.0, 1.0, 1.0], 2)).covariance;
        let root = root(&covariance);
        for i in 0..PARTS {
            for j in 0..PARTS {
                let again = dot(&root[i], &root[j]);
                assert!((again - covariance[i][j]).abs() < 1e-9);
            }
        }
    }
}
