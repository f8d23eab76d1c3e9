//! The wind triangle against published sets.

use std::f64::consts::{PI, TAU};

use proptest::prelude::*;
use skimwatch::angles::wrap_signed;
use skimwatch::units::{in_metres_per_second, knots};
use skimwatch::vessel::{ApparentWind, Motion, TrueWind, apparent_wind, true_wind};

fn triangle(
    course_deg: f64,
    speed: f64,
    heading_deg: f64,
    vane_deg: f64,
    apparent: f64,
) -> Option<TrueWind> {
    true_wind(
        ApparentWind {
            angle_rad: vane_deg.to_radians(),
            speed_mps: apparent,
        },
        heading_deg.to_radians(),
        Motion {
            toward_rad: course_deg.to_radians(),
            speed_mps: speed,
        },
    )
}

/// Degrees apart, the short way round.
fn apart_deg(a_rad: f64, b_deg: f64) -> f64 {
    wrap_signed(a_rad - b_deg.to_radians()).to_degrees().abs()
}

/// All ten of openrvdas `test/logger/utils/truewinds/test_truew.py` ("based on test code by Smith
/// and Bourassa, programmed by Remigio"; tolerance there 1e-4): course, speed over ground, heading,
/// vane, apparent speed; true direction, true speed. Where the set prints 360 we give 0, the same
/// direction in our range.
#[test]
fn published_set_of_smith_and_bourassa() {
    const SET: [[f64; 7]; 10] = [
        [0.0, 0.0, 0.0, 90.0, 5.0, 90.0, 5.0],
        [0.0, 0.0, 90.0, 90.0, 5.0, 180.0, 5.0],
        [0.0, 5.0, 0.0, 0.0, 5.0, 0.0, 0.0],
        [0.0, 5.0, 0.0, 0.0, 0.0, 180.0, 5.0],
        [180.0, 5.0, 180.0, 180.0, 5.0, 360.0, 10.0],
        [90.0, 5.0, 90.0, 90.0, 5.0, 225.0, 7.0710678],
        [90.0, 5.0, 45.0, 135.0, 5.0, 225.0, 7.0710678],
        [225.0, 5.0, 225.0, 270.0, 5.0, 90.0, 7.0710678],
        [270.0, 3.0, 270.0, 90.0, 4.0, 36.8698976, 5.0],
        [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    ];
    for (row, [course, speed, heading, vane, apparent, from, wind]) in SET.into_iter().enumerate() {
        let got = triangle(course, speed, heading, vane, apparent).unwrap();
        assert!(
            apart_deg(got.from_rad, from) < 1e-4,
            "row {}: {got:?}",
            row + 1
        );
        assert!(
            (got.speed_mps - wind).abs() < 1e-4,
            "row {}: {got:?}",
            row + 1
        );
        assert!((0.0..TAU).contains(&got.from_rad));
    }
}

/// The bad inputs of the same file: course, speed over ground, vane, heading, apparent speed. Each
/// must give no result.
#[test]
fn published_bad_inputs_give_nothing() {
    const BAD: [[f64; 5]; 7] = [
        [2.0, -9999.0, 0.0, 0.0, 0.0],
        [-1111.0, -9999.0, 1111.0, 5555.0, 9999.0],
        [-2.0, 8.0, 8.0, 8.0, 3.0],
        [3.0, -6.0, 0.0, 8.0, 3.0],
        [0.0, 0.0, -9.0, 8.0, 3.0],
        [0.0, 0.0, 7.0, 8.0, -4.0],
        [5.0, 1.0, 2.0, -13.0, 2.0],
    ];
    for [course, speed, vane, heading, apparent] in BAD {
        assert_eq!(triangle(course, speed, heading, vane, apparent), None);
    }
    for bad in [f64::NAN, f64::INFINITY] {
        assert_eq!(triangle(bad, 1.0, 0.0, 0.0, 1.0), None);
        assert_eq!(triangle(0.0, bad, 0.0, 0.0, 1.0), None);
        assert_eq!(triangle(0.0, 1.0, bad, 0.0, 1.0), None);
        assert_eq!(triangle(0.0, 1.0, 0.0, bad, 1.0), None);
        assert_eq!(triangle(0.0, 1.0, 0.0, 0.0, bad), None);
    }
}

struct Worked {
    source: &'static str,
    /// Course (and heading), speed in knots.
    boat: (f64, f64),
    /// From the bow, knots.
    apparent: (f64, f64),
    /// From, knots, as printed.
    printed: (f64, f64),
    /// How finely it is printed.
    tolerance: (f64, f64),
}

/// Worked examples with published answers, to the digits that are printed.
#[test]
fn published_worked_examples() {
    let examples = [
        Worked {
            source: "US maneuvering-board manual, NGA Pub. 1310: true wind from 315, 20 kn \
                     (own course 240 and 18 kn from memory); graphical, to the degree and knot",
            boat: (240.0, 18.0),
            apparent: (40.0, 30.0),
            printed: (315.0, 20.0),
            tolerance: (1.0, 0.5),
        },
        Worked {
            source: "USCG exam Q730, Nav. General, coded answer 83322: dd 33 (tens of degrees), \
                     ff 22",
            boat: (162.0, 15.0),
            apparent: (144.0, 8.0),
            printed: (330.0, 22.0),
            tolerance: (5.0, 0.5),
        },
        Worked {
            source: "USCG Deck 2014 Nav. Gen. 2107, option 51/24.0 (options read; only one fits)",
            boat: (180.0, 22.0),
            apparent: (290.0, 20.0),
            printed: (51.0, 24.0),
            tolerance: (0.5, 0.2),
        },
        Worked {
            source: "sailboatowners.com thread 51090, graphical: 8.65 kn at 90 on starboard",
            boat: (0.0, 5.0),
            apparent: (60.0, 10.0),
            printed: (90.0, 8.65),
            tolerance: (0.5, 0.015),
        },
        Worked {
            source: "Bowditch, chapter on weather observations: about 270 and 11 kn (from memory)",
            boat: (150.0, 17.0),
            apparent: (40.0, 15.0),
            printed: (270.0, 11.0),
            tolerance: (1.0, 0.5),
        },
    ];
    for Worked {
        source,
        boat,
        apparent,
        printed,
        tolerance,
    } in examples
    {
        let mps = |kn: f64| in_metres_per_second(knots(kn));
        let got = triangle(boat.0, mps(boat.1), boat.0, apparent.0, mps(apparent.1)).unwrap();
        let speed_kn = got.speed_mps / mps(1.0);
        assert!(
            apart_deg(got.from_rad, printed.0) <= tolerance.0,
            "{source}: from {}",
            got.from_rad.to_degrees()
        );
        assert!(
            (speed_kn - printed.1).abs() <= tolerance.1,
            "{source}: {speed_kn} kn"
        );
    }
}

/// Heading and course apart. No published answer; computed once with an independent program
/// (derived, not published).
#[test]
fn derived_examples_with_leeway_or_current() {
    for (course, speed, heading, vane, apparent, from, wind) in [
        (45.0, 5.0, 30.0, 250.0, 10.0, 262.344078, 13.503986),
        (350.0, 6.0, 10.0, 315.0, 14.0, 308.503173, 8.929742),
    ] {
        let got = triangle(course, speed, heading, vane, apparent).unwrap();
        assert!(apart_deg(got.from_rad, from) < 1e-6);
        assert!((got.speed_mps - wind).abs() < 1e-6);
    }
}

/// Reverse problem: course 135, 18 kn, true wind speed 24.5 kn, apparent 40 degrees on the
/// starboard bow; "official" answer 36.0 kn (OIC-NW reviewer blog, January 2014; graphical, so
/// loose: the exact triangle gives 35.385 kn, derived).
#[test]
fn apparent_wind_of_a_published_reverse_problem() {
    // Law of sines for the true wind angle: sin(twa - 40) = 18 sin 40 / 24.5.
    let angle_deg = 40.0 + (18.0 * 40f64.to_radians().sin() / 24.5).asin().to_degrees();
    let heading = 135f64.to_radians();
    let got = apparent_wind(
        TrueWind {
            from_rad: (135.0 + angle_deg).to_radians(),
            speed_mps: 24.5,
        },
        heading,
        Motion {
            toward_rad: heading,
            speed_mps: 18.0,
        },
    );
    assert!((got.angle_rad.to_degrees() - 40.0).abs() < 1e-9);
    assert!((got.speed_mps - 35.385).abs() < 1e-3);
    assert!((got.speed_mps / 36.0 - 1.0).abs() < 0.02);
}

proptest! {
    /// Working back and forth gives the same apparent wind.
    #[test]
    fn there_and_back(
        angle in 0.0..TAU, wind in 0.1..40.0f64, heading in 0.0..TAU,
        toward in 0.0..TAU, speed in 0.0..15.0f64,
    ) {
        let motion = Motion { toward_rad: toward, speed_mps: speed };
        let felt = ApparentWind { angle_rad: angle, speed_mps: wind };
        let over_water = true_wind(felt, heading, motion).unwrap();
        let again = apparent_wind(over_water, heading, motion);
        prop_assert!((again.speed_mps - wind).abs() < 1e-4);
        prop_assert!(wrap_signed(again.angle_rad - angle).abs() * wind < 1e-4);
    }

    /// Scalar form: TWS^2 = AWS^2 + V^2 - 2 AWS V cos AWA (DECnotes 1988 and many) when the boat
    /// moves along its heading.
    #[test]
    fn scalar_form(
        angle in 0.0..TAU, wind in 0.0..40.0f64, heading in 0.0..TAU, speed in 0.0..15.0f64,
    ) {
        let felt = ApparentWind { angle_rad: angle, speed_mps: wind };
        let motion = Motion::from_axes(heading, speed, 0.0);
        let got = true_wind(felt, heading, motion).unwrap().speed_mps;
        let scalar = (wind * wind + speed * speed - 2.0 * wind * speed * angle.cos())
            .max(0.0)
            .sqrt();
        prop_assert!((got - scalar).abs() < 1e-5);
    }

    /// Port is the mirror of starboard, and turning the world turns the answer.
    #[test]
    fn mirrored_and_turned(
        angle in 0.01..PI, wind in 0.1..40.0f64, heading in 0.0..TAU,
        ahead in -3.0..10.0f64, across in -2.0..2.0f64,
    ) {
        let felt = |a: f64| ApparentWind { angle_rad: a, speed_mps: wind };
        let starboard = true_wind(felt(angle), 0.0, Motion::from_axes(0.0, ahead, across)).unwrap();
        let port = true_wind(felt(TAU - angle), 0.0, Motion::from_axes(0.0, ahead, -across)).unwrap();
        prop_assert!((starboard.speed_mps - port.speed_mps).abs() < 1e-9);
        prop_assert!(wrap_signed(starboard.from_rad + port.from_rad).abs() * wind < 1e-6);
        let turned =
            true_wind(felt(angle), heading, Motion::from_axes(heading, ahead, across)).unwrap();
        prop_assert!((turned.speed_mps - starboard.speed_mps).abs() < 1e-9);
        prop_assert!(
            wrap_signed(turned.from_rad - heading - starboard.from_rad).abs()
                * starboard.speed_mps < 1e-6
        );
    }
}
