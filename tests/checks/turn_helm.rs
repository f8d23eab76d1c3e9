//! How the boat answers its rudder: K and T fitted, scaled with speed, used, and not guessed.

use skimwatch::turn::{Outlook, TurnSettings, TurnWatch};
use skimwatch::vessel::{Grade, Reading};

use crate::forecast_scene::{Boat, Helm, at, deck};

/// A boat with Nomoto's K and T at any speed, a rudder and noisy sensors; all numbers invented.
struct Ruddered {
    helm: Helm,
    /// K / U and T U.
    gain_per_m: f64,
    lag_m: f64,
    noise: u32,
    /// What the rudder's sensor reads although the rudder is elsewhere.
    stuck_deg: Option<f64>,
}

impl Ruddered {
    fn new() -> Self {
        Self {
            helm: Helm {
                boat: Boat::with_wind_abeam(8.0),
                time_constant_s: 1.0,
            },
            gain_per_m: 0.12,
            lag_m: 7.5,
            noise: 1,
            stuck_deg: None,
        }
    }

    /// About normal with variance 1: twelve uniform numbers less 6.
    fn noise(&mut self) -> f64 {
        let mut sum = -6.0;
        for _ in 0..12 {
            self.noise = self
                .noise
                .wrapping_mul(1_664_525)
                .wrapping_add(1_013_904_223);
            sum += f64::from(self.noise >> 8) / f64::from(1 << 24);
        }
        sum
    }

    /// One second with the rudder at `rudder_deg`, which is read with a trim of 1.5 degrees.
    fn second(&mut self, watch: &mut TurnWatch, s: u32, rudder_deg: f64, sensor: bool) -> Outlook {
        let t = at(f64::from(s));
        let mut seen = self.helm.boat;
        seen.heading_deg += 0.3 * self.noise();
        seen.rate_deg_s += 0.2 * self.noise();
        let mut now = seen.now(t);
        if sensor {
            now.rudder_rad = Some(Reading {
                value: (self.stuck_deg.unwrap_or(rudder_deg) + 1.5 + 0.5 * self.noise())
                    .to_radians(),
                at: t,
                source: "invented".to_owned(),
                grade: Grade::Measured,
            });
        }
        let outlook = watch.outlook(t, &now, &deck(100.0, 140.0));
        let speed = self.helm.boat.speed_mps;
        self.helm.time_constant_s = self.lag_m / speed;
        self.helm.steer(self.gain_per_m * speed * rudder_deg, 1.0);
        outlook
    }

    /// Turns of 15 s to both sides, 40 s apart.
    fn turns(&mut self, watch: &mut TurnWatch, from_s: u32, count: u32, sensor: bool) -> u32 {
        let to_s = from_s + 40 * count;
        for s in from_s..to_s {
            let side = if ((s - from_s) / 40).is_multiple_of(2) {
                1.0
            } else {
                -1.0
            };
            let over = (20..35).contains(&((s - from_s) % 40));
            self.second(watch, s, if over { 9.0 * side } else { 0.0 }, sensor);
        }
        to_s
    }
}

#[test]
fn gain_and_lag_of_this_boat_are_learnt_and_go_with_its_speed() {
    let settings = TurnSettings {
        yaw_time_constant_s: 8.0,
        ..TurnSettings::default()
    };
    let mut watch = TurnWatch::new(settings);
    let mut boat = Ruddered::new();
    let s = boat.turns(&mut watch, 0, 6, true);
    // K = k U and T = c / U: 0.36 1/s and 2.5 s at 3 m/s.
    let (k, t) = (watch.yaw_gain_per_s().unwrap(), watch.yaw_time_constant_s());
    assert!((k / 0.36 - 1.0).abs() < 0.1, "K fitted as {k}");
    assert!((t / 2.5 - 1.0).abs() < 0.25, "T fitted as {t}");
    // The boat goes faster, with no turn made at that speed: 0.6 1/s and 1.5 s at 5 m/s.
    boat.helm.boat.speed_mps = 5.0;
    boat.second(&mut watch, s, 0.0, true);
    let (k, t) = (watch.yaw_gain_per_s().unwrap(), watch.yaw_time_constant_s());
    assert!((k / 0.6 - 1.0).abs() < 0.1, "K at 5 m/s {k}");
    assert!((t / 1.5 - 1.0).abs() < 0.25, "T at 5 m/s {t}");
    // And turns at that speed teach the same boat.
    boat.turns(&mut watch, s + 1, 6, true);
    let k = watch.yaw_gain_per_s().unwrap();
    assert!((k / 0.6 - 1.0).abs() < 0.1, "K learnt at two speeds {k}");
}

#[test]
fn a_rudder_held_over_foretells_the_rate_before_the_bow_shows_it() {
    let first_rate = |sensor: bool| {
        let mut watch = TurnWatch::new(TurnSettings::default());
        let mut boat = Ruddered::new();
        let mut s = boat.turns(&mut watch, 0, 6, sensor) + 30;
        for straight in s - 30..s {
            boat.second(&mut watch, straight, 0.0, sensor);
        }
        // 14 degrees of rudder, never used before: 0.36 x 14 = 5.04 deg/s in the end.
        let over_at = s;
        loop {
            let outlook = boat.second(&mut watch, s, 14.0, sensor);
            if let Some(turn) = outlook.ahead() {
                return (s - over_at, turn.rate_rad_s.to_degrees());
            }
            s += 1;
            assert!(s < over_at + 8, "no turn seen");
        }
    };
    let (after_s, rate) = first_rate(true);
    assert!(after_s <= 2, "seen after {after_s} s");
    assert!((rate / 5.04 - 1.0).abs() < 0.25, "foretold {rate} deg/s");
    let (blind_s, blind_rate) = first_rate(false);
    assert!(blind_s >= after_s, "{blind_s} s without a rudder");
    assert!(
        (blind_rate - 5.04).abs() > (rate - 5.04).abs(),
        "{blind_rate}"
    );
}

#[test]
fn a_rudder_that_reads_hard_over_while_nothing_turns_foretells_nothing() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut boat = Ruddered::new();
    let s = boat.turns(&mut watch, 0, 6, true) + 30;
    for straight in s - 30..s {
        boat.second(&mut watch, straight, 0.0, true);
    }
    let before = watch.yaw_gain_per_s().unwrap();
    boat.stuck_deg = Some(25.0);
    for straight in s..s + 60 {
        let outlook = boat.second(&mut watch, straight, 0.0, true);
        assert!(outlook.ahead().is_none(), "at {straight} s: {outlook:?}");
    }
    // And what was learnt of the boat is not forgotten over it.
    boat.stuck_deg = None;
    boat.second(&mut watch, s + 60, 0.0, true);
    let after = watch.yaw_gain_per_s().expect("K is still known");
    assert!((after / before - 1.0).abs() < 0.05, "{before} and {after}");
    // A turn by hand is no shorter for a rudder that stays where it is.
    boat.stuck_deg = Some(0.0);
    let mut ending = 0;
    for turn in s + 61..s + 81 {
        let outlook = boat.second(&mut watch, turn, 12.0, true);
        let about_to_end = |turn: &skimwatch::turn::Intent| turn.why.contains("steadying");
        ending += u32::from(outlook.ahead().is_some_and(about_to_end));
    }
    assert_eq!(ending, 0);
}

#[test]
fn a_rudder_that_works_around_midships_teaches_nothing() {
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut boat = Ruddered::new();
    for s in 0..900 {
        // A pilot that keeps 90 degrees and is never at rest.
        let off_deg = boat.helm.boat.heading_deg - 90.0;
        let rudder = 1.5 * boat.noise() - 0.3 * off_deg - 0.8 * boat.helm.boat.rate_deg_s;
        boat.second(&mut watch, s, rudder, true);
    }
    assert_eq!(watch.yaw_gain_per_s(), None);
    let shipped = TurnSettings::default().yaw_time_constant_s;
    assert_eq!(watch.yaw_time_constant_s(), shipped);
    // A rudder that is wired the wrong way round is not believed.
    let mut boat = Ruddered::new();
    boat.gain_per_m = -boat.gain_per_m;
    boat.turns(&mut watch, 900, 6, true);
    assert_eq!(watch.yaw_gain_per_s(), None);
}

#[test]
fn a_helm_that_keeps_the_course_makes_no_turns() {
    // K is known, and an invented sea pushes the bow about while the helm answers.
    let mut watch = TurnWatch::new(TurnSettings::default());
    let mut boat = Ruddered::new();
    let from = boat.turns(&mut watch, 0, 6, true) + 60;
    let course_deg = boat.helm.boat.heading_deg;
    let (mut push, mut turns, mut was, mut furthest) = (0.0, 0, false, 0.0f64);
    for s in from - 60..from + 3600 {
        push += 0.15 * (12.0 * boat.noise() - push);
        let off_deg = boat.helm.boat.heading_deg - course_deg;
        let rudder = -0.8 * off_deg - 1.5 * boat.helm.boat.rate_deg_s;
        let outlook = boat.second(&mut watch, s, rudder, true);
        boat.helm.steer(0.5 * push, 0.3);
        turns += u32::from(s >= from && outlook.turning && !was);
        was = outlook.turning;
        furthest = furthest.max(off_deg.abs());
    }
    assert!(furthest > 2.0, "a sea of {furthest} degrees");
    assert!(turns <= 2, "{turns} turns in an hour");
}
