//! What matters most in a forecast of loads and distances: the heaviest load, the nearest structure,
//! the headings on which the lines stand clear.

use crate::forecast::{ClearanceAhead, FanHeading, Forecast, LoadAhead, LoadPart};

/// The part whose load comes closest to its strength, not counting the release band.
pub(super) fn heaviest(forecast: &Forecast) -> Option<&LoadAhead> {
    closest(forecast, |part| part != LoadPart::Band)
}

/// The load of the release band.
pub(super) fn band(forecast: &Forecast) -> Option<&LoadAhead> {
    closest(forecast, |part| part == LoadPart::Band)
}

fn closest(forecast: &Forecast, of: impl Fn(LoadPart) -> bool) -> Option<&LoadAhead> {
    forecast
        .loads
        .iter()
        .filter(|load| of(load.part))
        .max_by(|a, b| a.share.p90.total_cmp(&b.share.p90))
}

/// The structure and line with the least distance beyond the clearance.
pub(super) fn nearest(forecast: &Forecast) -> Option<&ClearanceAhead> {
    let by_m = |c: &ClearanceAhead| c.least_m.p10 - c.clearance_m;
    forecast
        .clearances
        .iter()
        .min_by(|a, b| by_m(a).total_cmp(&by_m(b)))
}

/// Where the settled lines stand clear, as turns from the bow in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Room {
    /// Clear on this heading and up to these turns to each side; `None`: all the way round.
    Here {
        port_deg: Option<f64>,
        starboard_deg: Option<f64>,
    },
    /// Foul on this heading; the nearest clear one, + to starboard.
    There { turn_deg: f64 },
    /// No heading is clear.
    Nowhere,
    /// No settled state is known.
    Unknown,
}

impl Room {
    pub fn of(fan: &[FanHeading], bow_deg: Option<f64>) -> Self {
        let mut headings: Vec<(f64, bool)> = fan
            .iter()
            .filter_map(|heading| {
                let turn_deg = bow_deg.map_or(heading.turn_deg, |bow| {
                    crate::angles::wrap_signed((heading.heading_deg_true - bow).to_radians())
                        .to_degrees()
                });
                Some((turn_deg, heading.clear_by_m? >= 0.0))
            })
            .collect();
        headings.sort_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
        let Some((_, clear_here)) = headings.first().copied() else {
            return Self::Unknown;
        };
        // Sorted outward from the bow, so the last clear one before the first foul one bounds.
        let side = |port: bool| {
            headings
                .iter()
                .filter(move |(turn, _)| (*turn < 0.0) == port)
        };
        if clear_here {
            let until = |port: bool| {
                let foul = side(port).find(|(_, clear)| !clear)?.0;
                Some(
                    side(port)
                        .map(|(turn, _)| turn.abs())
                        .take_while(|turn| *turn < foul.abs())
                        .last()
                        .unwrap_or(0.0),
                )
            };
            Self::Here {
                port_deg: until(true),
                starboard_deg: until(false),
            }
        } else {
            headings
                .iter()
                .find(|(_, clear)| *clear)
                .map_or(Self::Nowhere, |(turn_deg, _)| Self::There {
                    turn_deg: *turn_deg,
                })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An invented fan whose lines are clear where `clear` says, by degrees from the bow at 90.
    fn fan(clear: impl Fn(f64) -> bool) -> Vec<FanHeading> {
        (-17..=18)
            .map(|i| {
                let turn_deg = f64::from(i) * 10.0;
                FanHeading {
                    heading_deg_true: (90.0 + turn_deg).rem_euclid(360.0),
                    turn_deg,
                    immersion: None,
                    kite_elevation_deg: None,
                    off_astern_deg: None,
                    main_line_change_m: None,
                    clear_by_m: Some(if clear(turn_deg) { 1.0 } else { -0.2 }),
                    in_bite_zone: false,
                    unfishable: None,
                }
            })
            .collect()
    }

    #[test]
    fn room_to_each_side_of_a_clear_heading() {
        let fouls_to_port = fan(|turn| turn > -35.0);
        let Room::Here {
            port_deg: Some(port),
            starboard_deg: None,
        } = Room::of(&fouls_to_port, Some(90.0))
        else {
            panic!("clear here, and to starboard all round");
        };
        assert!((port - 30.0).abs() < 1e-9);
        // The bow has come 20 degrees to port since the fan was made.
        let Room::Here {
            port_deg: Some(port),
            ..
        } = Room::of(&fouls_to_port, Some(70.0))
        else {
            panic!("clear here")
        };
        assert!((port - 10.0).abs() < 1e-9, "{port}");
    }

    #[test]
    fn the_nearest_clear_side_of_a_foul_heading() {
        let Room::There { turn_deg } = Room::of(&fan(|turn| !(-60.0..25.0).contains(&turn)), None)
        else {
            panic!("foul here")
        };
        assert!((turn_deg - 30.0).abs() < 1e-9, "{turn_deg}");
        assert_eq!(Room::of(&fan(|_| false), None), Room::Nowhere);
        assert_eq!(Room::of(&[], None), Room::Unknown);
    }
}
