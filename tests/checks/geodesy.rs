//! Distances and bearings against published lines, the date line and the poles.

use skimwatch::geodesy::{MOST_LATITUDE_DEG, NoWay, Offset, Position};

fn place(latitude_deg: f64, longitude_deg: f64) -> Position {
    Position {
        latitude_deg,
        longitude_deg,
    }
}

fn dms(degrees: f64, minutes: f64, seconds: f64) -> f64 {
    degrees + minutes / 60.0 + seconds / 3600.0
}

/// Flinders Peak to Buninyong: 54972.271 m, 306 degrees 52' 05.37" there and 127 degrees 10' 25.07"
/// back. Source: Geocentric Datum of Australia technical manual, chapter 4 (MEMORY); it is on GRS80,
/// whose flattening differs from that of WGS 84 by less than these digits show.
#[test]
fn a_published_line_comes_out_there_and_back() {
    let flinders = place(-dms(37.0, 57.0, 3.720_30), dms(144.0, 25.0, 29.524_40));
    let buninyong = place(-dms(37.0, 39.0, 10.156_10), dms(143.0, 55.0, 35.383_90));
    let way = flinders.way_to(buninyong).unwrap();
    assert!((way.range_m() - 54_972.271).abs() < 0.001, "{way:?}");
    let bearing = way.bearing_rad().to_degrees();
    assert!(
        (bearing - dms(306.0, 52.0, 5.37)).abs() < 0.01 / 3600.0,
        "{bearing}"
    );
    let back = buninyong
        .way_to(flinders)
        .unwrap()
        .bearing_rad()
        .to_degrees();
    assert!(
        (back - dms(127.0, 10.0, 25.07)).abs() < 0.01 / 3600.0,
        "{back}"
    );
    let there = flinders.moved(way).unwrap();
    assert!(there.way_to(buninyong).unwrap().range_m() < 1e-6);
}

/// Length of one degree on WGS 84, metres, along the meridian (half a degree to each side) and along
/// the parallel: the usual table (MEMORY). A thousandth of it is a line of about 100 m.
#[test]
fn short_lines_agree_with_the_table_of_the_length_of_a_degree() {
    for (latitude, north_m, east_m) in [
        (0.0, 110_574.0, 111_320.0),
        (15.0, 110_649.0, 107_550.0),
        (30.0, 110_852.0, 96_486.0),
        (45.0, 111_132.0, 78_847.0),
        (60.0, 111_412.0, 55_800.0),
        (75.0, 111_618.0, 28_902.0),
    ] {
        let here = place(latitude, 12.0);
        let north = place(latitude - 0.0005, 12.0)
            .way_to(place(latitude + 0.0005, 12.0))
            .unwrap();
        assert!(
            (1000.0 * north.range_m() - north_m).abs() < 1.5,
            "{latitude}: {north:?}"
        );
        assert!(north.east_m.abs() < 1e-6);
        let east = here.way_to(place(latitude, 12.001)).unwrap();
        assert!(
            (1000.0 * east.range_m() - east_m).abs() < 1.5,
            "{latitude}: {east:?}"
        );
        assert!((east.bearing_rad().to_degrees() - 90.0).abs() < 0.001);
    }
}

#[test]
fn the_date_line_is_no_border() {
    let west = place(-17.0, 179.999);
    let east = place(-17.0, -179.999);
    let way = west.way_to(east).unwrap();
    // Two thousandths of a degree of the parallel: 111319.49 m at the equator times the cosine, a
    // little more on the ellipsoid.
    assert!((way.range_m() - 0.002 * 106_490.0).abs() < 0.1, "{way:?}");
    assert!((way.bearing_rad().to_degrees() - 90.0).abs() < 0.001);
    let there = west
        .moved(Offset::polar(90_f64.to_radians(), 500.0))
        .unwrap();
    assert!(
        (-180.0..-179.99).contains(&there.longitude_deg),
        "{there:?}"
    );
    let back = there
        .moved(Offset::polar(270_f64.to_radians(), 500.0))
        .unwrap();
    assert!(back.way_to(west).unwrap().range_m() < 0.05);
}

#[test]
fn near_a_pole_there_are_no_bearings_and_that_is_said() {
    let near = place(MOST_LATITUDE_DEG, 0.0);
    assert!(near.usable().is_ok());
    let beyond = place(MOST_LATITUDE_DEG + 0.01, 0.0);
    for refused in [near.way_to(beyond), beyond.way_to(near)] {
        let why = refused.unwrap_err();
        assert!(matches!(why, NoWay::NearPole { .. }));
        let words = why.to_string();
        assert!(
            words.contains("89.01") && words.contains("give a place"),
            "{words}"
        );
    }
    // A way that leads there is refused, too.
    assert!(
        near.moved(Offset {
            east_m: 0.0,
            north_m: 5000.0
        })
        .is_err()
    );
    for wrong in [place(91.0, 0.0), place(0.0, 181.0), place(f64::NAN, 0.0)] {
        assert!(
            matches!(wrong.usable(), Err(NoWay::NoPlace { .. })),
            "{wrong:?}"
        );
    }
}

#[test]
fn a_way_there_and_back_comes_home() {
    for latitude in [-80.0, -33.0, 0.0, 51.0, 88.9] {
        for bearing in [0.0_f64, 37.0, 90.0, 181.0, 299.0] {
            for range_m in [0.0, 1.0, 150.0, 1000.0] {
                let here = place(latitude, 179.9999);
                let way = Offset::polar(bearing.to_radians(), range_m);
                let found = here.way_to(here.moved(way).unwrap()).unwrap();
                let off = found.plus(way.times(-1.0)).range_m();
                assert!(off < 1e-6, "{latitude} {bearing} {range_m}: {off}");
            }
        }
    }
}

/// Differences of latitude and longitude of a short line from the radii of curvature at its middle,
/// `M = a (1 - e2) / (1 - e2 sin2)^1.5` and `N = a / sqrt(1 - e2 sin2)`: any textbook of geodesy, for
/// instance W. Torge, *Geodesy* (from memory). WGS 84: a = 6378137 m, 1 / f = 298.257223563 (NGA.STND.0036).
#[test]
fn short_lines_agree_with_the_radii_of_curvature_everywhere() {
    let f = 1.0 / 298.257_223_563;
    let (a, e2) = (6_378_137.0, f * (2.0 - f));
    for latitude in [-88.9, -60.0, -12.0, 0.0, 33.0, 71.0, 88.9] {
        for longitude in [-179.9995, 0.0001, 12.0, 179.9995_f64] {
            for bearing_deg in [0.0, 20.0, 90.0, 135.0, 200.0, 270.0, 315.0_f64] {
                for range_m in [1.0, 60.0, 300.0, 1000.0] {
                    let here = place(latitude, longitude);
                    let way = Offset::polar(bearing_deg.to_radians(), range_m);
                    let there = here.moved(way).unwrap();
                    let middle = 0.5 * (latitude + there.latitude_deg).to_radians();
                    let w = 1.0 - e2 * middle.sin().powi(2);
                    let (m, n) = (a * (1.0 - e2) / w.powf(1.5), a / w.sqrt());
                    let north_m = m * (there.latitude_deg - latitude).to_radians();
                    let over = (there.longitude_deg - longitude + 540.0).rem_euclid(360.0) - 180.0;
                    let east_m = n * middle.cos() * over.to_radians();
                    // The bearing at the middle of the line is not that at its beginning: meridians
                    // meet at the pole.
                    let turned = 0.5 * over.to_radians() * middle.sin();
                    let expected = Offset::polar(bearing_deg.to_radians() + turned, range_m);
                    let off_m = (north_m - expected.north_m).hypot(east_m - expected.east_m);
                    assert!(
                        off_m < 0.01 + 1e-4 * range_m,
                        "{latitude} {longitude} {bearing_deg} {range_m}: {off_m}"
                    );
                    assert!((-180.0..=180.0).contains(&there.longitude_deg));
                }
            }
        }
    }
}
