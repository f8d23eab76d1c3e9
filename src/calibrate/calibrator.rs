//! Hands what is measured to the filters, and tells what they found.

use super::ground::Ground;
use super::rate::Rate;
use super::shape::{CalibrationNow, Estimate, Found, LEAST_TURNS, SIGNIFICANT, Term};
use super::stretch::{Piece, Sample, Turns};
use super::wind::{Over, Wind};
use crate::decode::{Correctable, Talker};
use crate::time::Millis;
use crate::vessel::{Corrected, Corrections, HeardFrom, Measured};

/// Samples are taken no more often.
const APART_S: f64 = 0.9;
/// A value older than this is of another moment.
const FRESH_S: f64 = 3.0;

/// What the models leave out, at least, as a standard deviation: 0.75 degrees, 1.5 %, 0.02 degrees a
/// second. Invented.
const FLOOR: Limits = Limits {
    angle_rad: 0.0131,
    factor: 0.015,
    rate_rad_s: 3.5e-4,
};
/// A smaller error is not worth a correction: 1 degree, 2 %, 0.05 degrees a second. Invented.
const LEAST: Limits = Limits {
    angle_rad: 0.0175,
    factor: 0.02,
    rate_rad_s: 8.7e-4,
};
/// With a greater deviation an estimate is not told: 6 degrees, 12 %, 0.3 degrees a second. Invented.
const MOST: Limits = Limits {
    angle_rad: 0.105,
    factor: 0.12,
    rate_rad_s: 5.2e-3,
};
/// What a sum of three squares of normal numbers exceeds as seldom as one number exceeds
/// [`SIGNIFICANT`] deviations: 99.73 % of chi-square with three degrees of freedom (from memory).
const SIGNIFICANT_OF_THREE: f64 = 14.16;

struct Limits {
    angle_rad: f64,
    factor: f64,
    rate_rad_s: f64,
}

impl Limits {
    const fn of(&self, what: Correctable) -> f64 {
        match what {
            Correctable::WindAngle | Correctable::Compass => self.angle_rad,
            Correctable::WindSpeed | Correctable::Log => self.factor,
            Correctable::RateOfTurn => self.rate_rad_s,
        }
    }
}

/// The instruments that an estimate is made of; another one begins it anew.
type Of<const N: usize> = [Option<HeardFrom>; N];

/// Follows all instruments.
#[derive(Debug, Clone)]
pub struct Calibrator {
    last: Option<Millis>,
    piece: Piece,
    /// Turns for the rate of turn, which is followed through them.
    turns: Turns,
    ground: Ground,
    ground_of: Of<3>,
    wind_in_water: Wind,
    wind_in_water_of: Of<3>,
    wind_over_ground: Wind,
    wind_over_ground_of: Of<3>,
    rate: Rate,
    rate_of: Of<2>,
}

/// Whether all are there, and are others than before; remembers them.
fn changed<const N: usize>(before: &mut Of<N>, now: Of<N>) -> bool {
    if now.iter().any(Option::is_none) || *before == now {
        return false;
    }
    let known = before.iter().any(Option::is_some);
    *before = now;
    known
}

impl Default for Calibrator {
    fn default() -> Self {
        Self {
            last: None,
            piece: Piece::default(),
            turns: Turns::default(),
            ground: Ground::default(),
            ground_of: [None; 3],
            wind_in_water: Wind::new(Over::Water),
            wind_in_water_of: [None; 3],
            wind_over_ground: Wind::new(Over::Ground),
            wind_over_ground_of: [None; 3],
            rate: Rate::default(),
            rate_of: [None; 2],
        }
    }
}

impl Calibrator {
    /// Takes in what is measured now. Moments that come too soon, or run back, are passed over.
    pub fn look(&mut self, measured: &Measured) {
        let at = measured.at;
        if let Some(last) = self.last {
            let since_s = at.seconds_since(last);
            if (0.0..APART_S).contains(&since_s) {
                return;
            }
            if since_s < 0.0 {
                *self = Self::default();
            }
        }
        self.last = Some(at);
        self.follow_instruments(measured);
        let fresh = |then: Millis| at.seconds_since(then) <= FRESH_S;
        let Some(heading) = measured.heading.filter(|heading| fresh(heading.at)) else {
            self.piece = Piece::default();
            return;
        };
        let sample = Sample {
            at,
            heading: heading.value,
            wind: measured.wind.filter(|w| fresh(w.at)).map(|w| w.value),
            log_mps: measured.log_mps.filter(|l| fresh(l.at)).map(|l| l.value),
            ground_mps: measured.ground_mps.filter(|g| fresh(g.at)).map(|g| g.value),
            rate_rad_s: measured
                .rate_of_turn_rad_s
                .filter(|r| fresh(r.at))
                .map(|r| r.value),
        };
        if let Some(piece) = self.piece.add(sample) {
            self.learn(at, &piece);
        }
    }

    /// Begins anew what is about an instrument that is not believed any more.
    fn follow_instruments(&mut self, measured: &Measured) {
        let heading = measured.heading.map(|heard| heard.instrument);
        let wind = measured.wind.map(|heard| heard.instrument);
        let log = measured.log_mps.map(|heard| heard.instrument);
        let ground = measured.ground_mps.map(|heard| heard.instrument);
        let rate = measured.rate_of_turn_rad_s.map(|heard| heard.instrument);
        if changed(&mut self.ground_of, [heading, log, ground]) {
            self.ground = Ground::default();
        }
        if changed(&mut self.wind_in_water_of, [heading, wind, log]) {
            self.wind_in_water = Wind::new(Over::Water);
        }
        if changed(&mut self.wind_over_ground_of, [heading, wind, ground]) {
            self.wind_over_ground = Wind::new(Over::Ground);
        }
        if changed(&mut self.rate_of, [heading, rate]) {
            self.rate = Rate::default();
            self.turns = Turns::default();
        }
    }

    fn learn(&mut self, at: Millis, piece: &Piece) {
        if piece.samples.iter().all(|s| s.rate_rad_s.is_some()) {
            self.rate.learn(piece);
        }
        if !piece.is_steady() {
            return;
        }
        if let Some(first) = piece.samples.first()
            && first.rate_rad_s.is_some()
        {
            self.turns.note(first.heading.true_rad);
        }
        self.ground.learn(at, piece);
        let curve = self.ground.curve();
        self.wind_in_water.learn(at, piece, curve);
        self.wind_over_ground.learn(at, piece, curve);
    }

    /// What is known of each instrument, and what is left of it beyond these corrections.
    #[must_use]
    pub fn now(&self, corrections: &Corrections) -> CalibrationNow {
        CalibrationNow {
            estimates: vec![
                self.wind_angle(corrections),
                self.wind_speed(corrections),
                self.log(corrections),
                self.compass(corrections),
                self.rate_of_turn(corrections),
            ],
        }
    }

    fn wind_angle(&self, corrections: &Corrections) -> Estimate {
        let what = Correctable::WindAngle;
        let [_, wind, log] = self.wind_in_water_of;
        let by_log = log.is_some() && self.wind_in_water.turns.count > 0;
        let (filter, wind, caution) = if by_log {
            (
                &self.wind_in_water,
                wind,
                "a twisted mast, upwash and heel look the same as an offset of the vane",
            )
        } else {
            (
                &self.wind_over_ground,
                self.wind_over_ground_of[1],
                "without a log an offset of the compass looks the same; so do a twisted mast, upwash \
                 and heel",
            )
        };
        let errors = filter.errors();
        let (total, sigma) = (errors.angle_rad, errors.angle_sigma_rad);
        let put_on = in_force(corrections.wind_angle_rad, wind).unwrap_or(0.0);
        let found = plain(what, total, total - put_on, sigma);
        let lacks = "no wind with heading and log, or with speed and course over ground, yet";
        estimate(what, wind, &filter.turns, found, caution, lacks)
    }

    fn wind_speed(&self, corrections: &Corrections) -> Estimate {
        let what = Correctable::WindSpeed;
        let filter = &self.wind_over_ground;
        let wind = self.wind_over_ground_of[1];
        let errors = filter.errors();
        let put_on = in_force(corrections.wind_speed, wind).unwrap_or(1.0);
        let left = errors.factor / put_on;
        let found = plain(what, errors.factor, left, errors.factor_sigma);
        let caution = "upwash and the boat's own wind shadow look the same as an error of the cups";
        let lacks = "no wind with heading, and with speed and course over ground, yet";
        estimate(what, wind, &filter.turns, found, caution, lacks)
    }

    fn log(&self, corrections: &Corrections) -> Estimate {
        let what = Correctable::Log;
        let log = self.ground_of[1];
        let found = self.ground.log();
        let put_on = in_force(corrections.log, log).unwrap_or(1.0);
        let found = plain(what, found.factor, found.factor / put_on, found.sigma);
        let caution = "a current that changed with each turn looks the same";
        estimate(what, log, &self.ground.turns, found, caution, LACKS_GROUND)
    }

    fn compass(&self, corrections: &Corrections) -> Estimate {
        let what = Correctable::Compass;
        let compass = self.ground_of[0];
        let deviation = self.ground.compass();
        let put_on = in_force(corrections.compass, compass).unwrap_or_default();
        let pair = |total: f64, put_on: f64| (total, total - put_on);
        let numbers = [
            pair(deviation.curve.offset_rad, put_on.offset_rad),
            pair(deviation.curve.sine_rad, put_on.sine_rad),
            pair(deviation.curve.cosine_rad, put_on.cosine_rad),
        ];
        let mut covariance = deviation.covariance;
        for (i, line) in covariance.iter_mut().enumerate() {
            line[i] += FLOOR.angle_rad * FLOOR.angle_rad;
        }
        let left = numbers.map(|(_, left)| left);
        let size = left[0].abs() + left[1].hypot(left[2]);
        let sure = square_by(&covariance, &left).is_some_and(|sum| sum > SIGNIFICANT_OF_THREE);
        let terms = numbers
            .into_iter()
            .enumerate()
            .map(|(i, (total, left))| Term {
                total,
                left,
                sigma: covariance[i][i].max(0.0).sqrt(),
            })
            .collect();
        let found = Found {
            terms,
            is_significant: sure && size > LEAST.angle_rad,
        };
        let caution = "leeway from one side, a wrong variation, and a current that changed with each \
                       turn look the same";
        estimate(
            what,
            compass,
            &self.ground.turns,
            found,
            caution,
            LACKS_GROUND,
        )
    }

    fn rate_of_turn(&self, corrections: &Corrections) -> Estimate {
        let what = Correctable::RateOfTurn;
        let rate = self.rate_of[1];
        let (total, sigma) = self.rate.bias();
        let put_on = in_force(corrections.rate_of_turn_rad_s, rate).unwrap_or(0.0);
        let found = plain(what, total, total - put_on, sigma);
        let caution = "a compass that drifts looks the same";
        let lacks = "no rate of turn with a heading yet";
        estimate(what, rate, &self.turns, found, caution, lacks)
    }
}

const LACKS_GROUND: &str = "no log with heading, and with speed and course over ground, yet";

/// The correction that is in force for this instrument.
fn in_force<T: Copy>(corrected: Option<Corrected<T>>, instrument: Option<HeardFrom>) -> Option<T> {
    let talker: Talker = instrument?.talker;
    corrected.filter(|c| c.talker == talker).map(|c| c.by)
}

/// A correction of one number.
fn plain(what: Correctable, total: f64, left: f64, sigma: f64) -> Found {
    let sigma = sigma.hypot(FLOOR.of(what));
    let none = match what {
        Correctable::WindSpeed | Correctable::Log => 1.0,
        Correctable::WindAngle | Correctable::Compass | Correctable::RateOfTurn => 0.0,
    };
    let off = (left - none).abs();
    Found {
        terms: vec![Term { total, left, sigma }],
        is_significant: off > SIGNIFICANT * sigma && off > LEAST.of(what),
    }
}

/// What was found, unless it is too early to tell.
fn estimate(
    what: Correctable,
    instrument: Option<HeardFrom>,
    turns: &Turns,
    found: Found,
    caution: &'static str,
    lacks: &str,
) -> Estimate {
    let count = turns.count;
    let unsure = found
        .terms
        .first()
        .is_none_or(|term| term.sigma.is_nan() || term.sigma > MOST.of(what));
    let why = if instrument.is_none() {
        Some(lacks.to_owned())
    } else if count < LEAST_TURNS {
        Some(format!(
            "not enough turns yet: {count} of {LEAST_TURNS}, each of 30 degrees or more"
        ))
    } else if what != Correctable::RateOfTurn && !turns.well_apart() {
        Some("not enough turns yet: no two headings were a right angle apart".to_owned())
    } else if unsure {
        Some(format!(
            "not enough turns yet: after {count} of them it is still too uncertain"
        ))
    } else {
        None
    };
    Estimate {
        what,
        talker: instrument.map(|instrument| instrument.talker),
        turns: count,
        found: why.map_or(Ok(found), Err),
        caution,
    }
}

/// `v' C^-1 v`, by elimination; `None` when `C` cannot be inverted.
fn square_by(covariance: &[[f64; 3]; 3], vector: &[f64; 3]) -> Option<f64> {
    let (mut c, mut v) = (*covariance, *vector);
    let mut sum = 0.0;
    for i in 0..3 {
        let (pivot, first) = (c[i], v[i]);
        let known = pivot[i];
        if known.is_nan() || known <= 0.0 {
            return None;
        }
        sum += first * first / known;
        for (line, value) in c.iter_mut().zip(&mut v).skip(i + 1) {
            let part = line[i] / known;
            for (a, b) in line.iter_mut().zip(pivot) {
                *a -= part * b;
            }
            *value -= part * first;
        }
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_square_by_a_covariance_is_that_of_its_inverse() {
        let diagonal = [[4.0, 0.0, 0.0], [0.0, 9.0, 0.0], [0.0, 0.0, 1.0]];
        let sum = square_by(&diagonal, &[2.0, 3.0, 5.0]).unwrap();
        assert!((sum - 27.0).abs() < 1e-12);
        // Inverse of [[2,1],[1,2]] is [[2,-1],[-1,2]] / 3 (from the definition).
        let mixed = [[2.0, 1.0, 0.0], [1.0, 2.0, 0.0], [0.0, 0.0, 1.0]];
        let sum = square_by(&mixed, &[1.0, -1.0, 0.0]).unwrap();
        assert!((sum - 2.0).abs() < 1e-12);
    }
}
