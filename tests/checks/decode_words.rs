//! Observations in short words, and their numbers with the range each may have: what the decode
//! tests compare.

use skimwatch::decode::{
    CorrectBy, CrewInput, Direction, GeoPosition, HeadingObservation, LaunchSaid, MarkChange,
    MarkHow, North, Observation, SteeringOrigin, StrikeWord, TargetBearing, TargetPlace,
};
use skimwatch::units::{
    Angle, Length, Velocity, in_celsius, in_degrees, in_degrees_per_second, in_knots, in_metres,
    in_metres_per_second, in_nautical_miles,
};

/// Up to `decimals` decimals, without trailing zeros.
fn short(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.to_owned()
}

fn part<T>(value: Option<T>, words: impl Fn(T) -> String) -> String {
    value.map_or_else(|| "-".to_owned(), words)
}

fn deg(angle: Angle) -> String {
    short(in_degrees(angle), 4)
}

fn kn(speed: Velocity) -> String {
    format!("{}kn", short(in_knots(speed), 3))
}

fn nmi(length: Length) -> String {
    format!("{}nmi", short(in_nautical_miles(length), 3))
}

fn m(length: Length) -> String {
    format!("{}m", short(in_metres(length), 3))
}

fn place(position: GeoPosition) -> String {
    format!(
        "{} {}",
        short(in_degrees(position.latitude), 6),
        short(in_degrees(position.longitude), 6)
    )
}

fn toward(direction: Direction) -> String {
    let north = match direction.north {
        North::True => 'T',
        North::Magnetic => 'M',
    };
    format!("{}{north}", deg(direction.angle))
}

/// All observations of a sentence, separated by semicolons.
pub(crate) fn words(observations: &[Observation]) -> String {
    let each: Vec<String> = observations.iter().map(one).collect();
    each.join("; ")
}

fn one(observation: &Observation) -> String {
    use Observation as O;
    let yes = |flag: Option<bool>| part(flag, |f| if f { "yes" } else { "no" }.to_owned());
    match observation {
        O::ApparentWind { angle, speed } => {
            format!("apparent {} {}", part(*angle, deg), part(*speed, kn))
        }
        O::TheoreticalWind { angle, speed } => {
            format!("theoretical {} {}", part(*angle, deg), part(*speed, kn))
        }
        O::WindDirection {
            direction_true,
            direction_magnetic,
            speed,
        } => format!(
            "wind from {}T {}M {}",
            part(*direction_true, deg),
            part(*direction_magnetic, deg),
            part(*speed, kn)
        ),
        O::Heading(HeadingObservation::True { heading }) => format!("heading {}T", deg(*heading)),
        O::Heading(HeadingObservation::Magnetic { heading }) => {
            format!("heading {}M", deg(*heading))
        }
        O::Heading(HeadingObservation::Compass {
            sensor,
            deviation,
            variation,
        }) => format!(
            "compass {} deviation {} variation {}",
            deg(*sensor),
            part(*deviation, deg),
            part(*variation, deg)
        ),
        O::Variation(angle) => format!("variation {}", deg(*angle)),
        O::WaterSpeed {
            longitudinal,
            transverse,
        } => format!("water {} {}", kn(*longitudinal), part(*transverse, kn)),
        O::CourseOverGround {
            true_north,
            magnetic,
        } => format!(
            "course {}T {}M",
            part(*true_north, deg),
            part(*magnetic, deg)
        ),
        O::SpeedOverGround(speed) => format!("ground {}", kn(*speed)),
        O::GroundSpeedAxes {
            longitudinal,
            transverse,
        } => format!(
            "ground axes {} {}",
            kn(*longitudinal),
            part(*transverse, kn)
        ),
        O::Position(position) => format!("at {}", place(*position)),
        O::RateOfTurn(rate) => format!(
            "turning {}/min",
            short(in_degrees_per_second(*rate) * 60.0, 3)
        ),
        O::Rudder(angle) => format!("rudder {}", deg(*angle)),
        O::HeadingToSteer {
            true_north,
            magnetic,
        } => format!(
            "steer {}T {}M",
            part(*true_north, deg),
            part(*magnetic, deg)
        ),
        O::SteeringControl(s) => {
            let origin = match s.origin {
                SteeringOrigin::Command { flag } => format!("command {flag:?}"),
                SteeringOrigin::State {
                    rudder_within_limit,
                    heading_within_limit,
                    track_within_limit,
                    vessel_heading,
                } => format!(
                    "state within {} {} {} heading {}",
                    yes(rudder_within_limit),
                    yes(heading_within_limit),
                    yes(track_within_limit),
                    part(vessel_heading, toward)
                ),
            };
            format!(
                "{origin}: override {} rudder {} {:?} {:?} limits {} {} {} radius {} rate {} heading {} track {}",
                yes(s.override_active),
                part(s.rudder, deg),
                s.steering_mode,
                s.turn_mode,
                part(s.rudder_limit, deg),
                part(s.off_heading_limit, deg),
                part(s.off_track_limit, nmi),
                part(s.turn_radius, nmi),
                part(s.turn_rate, |r| short(in_degrees_per_second(r) * 60.0, 3)),
                part(s.heading_to_steer, toward),
                part(s.track, toward),
            )
        }
        O::Autopilot(a) => format!(
            "autopilot off {} arrived {} passed {} leg {} to {} bearing {} steer {}",
            part(a.cross_track, nmi),
            yes(a.arrived),
            yes(a.passed),
            part(a.leg_bearing, toward),
            part(a.destination.clone(), |d| d),
            part(a.bearing, toward),
            part(a.heading_to_steer, toward)
        ),
        O::LegToWaypoint(l) => format!(
            "leg off {} from {} to {} at {} range {} bearing {} closing {} arrived {}",
            part(l.cross_track, nmi),
            part(l.origin.clone(), |n| n),
            part(l.destination.clone(), |n| n),
            part(l.destination_position, place),
            part(l.range, nmi),
            part(l.bearing_true, deg),
            part(l.closing, kn),
            yes(l.arrived)
        ),
        O::BearingToWaypoint(b) => format!(
            "waypoint {} at {} bearing {}T {}M distance {}",
            part(b.name.clone(), |n| n),
            part(b.position, place),
            part(b.bearing_true, deg),
            part(b.bearing_magnetic, deg),
            part(b.distance, nmi)
        ),
        O::LegBearing(b) => format!(
            "leg {}T {}M to {} from {}",
            part(b.bearing_true, deg),
            part(b.bearing_magnetic, deg),
            part(b.destination.clone(), |n| n),
            part(b.origin.clone(), |n| n)
        ),
        O::CrossTrack(length) => format!("off track {}", nmi(*length)),
        O::Target(target) => format!(
            "target {} {} {} moving {}",
            target.number,
            part(target.name.clone(), |n| n),
            part(target.place, |place| match place {
                TargetPlace::At(position) => format!("at {}", self::place(position)),
                TargetPlace::FromHere { distance, bearing } => {
                    let from = match bearing {
                        TargetBearing::True(angle) => format!("{}T", deg(angle)),
                        TargetBearing::OffBow(angle) => format!("{} off the bow", deg(angle)),
                    };
                    format!("{} {from}", nmi(distance))
                }
            }),
            part(target.motion, |(course, speed)| format!(
                "{} {}",
                deg(course),
                kn(speed)
            ))
        ),
        O::PersonInWater(position) => format!("person in the water at {}", place(*position)),
        O::Waypoint { name, position } => format!("waypoint {name} at {}", place(*position)),
        O::Route(r) => format!(
            "route {} {:?} {}",
            part(r.id.clone(), |n| n),
            r.scope,
            r.waypoints.join(" ")
        ),
        O::Utc { date, time } => format!(
            "utc {} {}",
            part(*date, |d| d.to_string()),
            time.format("%H:%M:%S%.f")
        ),
        O::Depth {
            below_transducer,
            offset,
        } => format!("depth {} {}", m(*below_transducer), part(*offset, m)),
        O::HullMotion { heave, pitch, roll } => {
            let degrees = |angle: Angle| format!("{}deg", short(in_degrees(angle), 2));
            format!(
                "hull heave {} pitch {} roll {}",
                part(*heave, m),
                part(*pitch, degrees),
                part(*roll, degrees)
            )
        }
        O::WaterTemperature(t) => format!("water {}C", short(in_celsius(*t), 2)),
        O::Crew { seq, input } => format!("crew {seq} {input:?}"),
    }
}

/// A number of an observation with the least and greatest it may be.
pub(crate) type Bounded = (f64, f64, f64);

/// The first number of an observation that is not finite or not inside its range.
pub(crate) fn outside(observation: &Observation) -> Option<Bounded> {
    let mut found = Vec::new();
    numbers(observation, &mut found);
    found
        .into_iter()
        .find(|&(value, low, high)| !(value.is_finite() && value >= low && value <= high))
}

// The bounds are written out here and not taken from the decoder: full circle below 360 degrees,
// 105 m/s, half the earth's girth in nautical miles, and the crew sentence's documented ranges.
fn numbers(observation: &Observation, out: &mut Vec<Bounded>) {
    use Observation as O;
    let circle = |a: Angle| (in_degrees(a), 0.0, 360.0 - 1e-9);
    let signed = |a: Angle, limit: f64| (in_degrees(a), -limit, limit);
    let speed = |v: Velocity| (in_metres_per_second(v), 0.0, 105.0);
    let axis = |v: Velocity| (in_metres_per_second(v), -105.0, 105.0);
    let miles = |l: Length| (in_nautical_miles(l), -10_801.0, 10_801.0);
    let place = |p: GeoPosition| [signed(p.latitude, 90.0), signed(p.longitude, 180.0)];
    match observation {
        O::ApparentWind { angle, speed: s } | O::TheoreticalWind { angle, speed: s } => {
            out.extend(angle.map(circle));
            out.extend(s.map(speed));
        }
        O::WindDirection {
            direction_true,
            direction_magnetic,
            speed: s,
        } => {
            out.extend(direction_true.map(circle));
            out.extend(direction_magnetic.map(circle));
            out.extend(s.map(speed));
        }
        O::Heading(h) => match *h {
            HeadingObservation::True { heading } | HeadingObservation::Magnetic { heading } => {
                out.push(circle(heading));
            }
            HeadingObservation::Compass {
                sensor,
                deviation,
                variation,
            } => {
                out.push(circle(sensor));
                out.extend(deviation.map(|a| signed(a, 180.0)));
                out.extend(variation.map(|a| signed(a, 180.0)));
            }
        },
        O::Variation(a) => out.push(signed(*a, 180.0)),
        O::WaterSpeed {
            longitudinal,
            transverse,
        }
        | O::GroundSpeedAxes {
            longitudinal,
            transverse,
        } => {
            out.push(axis(*longitudinal));
            out.extend(transverse.map(axis));
        }
        O::CourseOverGround {
            true_north,
            magnetic,
        }
        | O::HeadingToSteer {
            true_north,
            magnetic,
        } => {
            out.extend(true_north.map(circle));
            out.extend(magnetic.map(circle));
        }
        O::SpeedOverGround(v) => out.push(speed(*v)),
        O::Position(p) | O::PersonInWater(p) | O::Waypoint { position: p, .. } => {
            out.extend(place(*p));
        }
        O::Target(target) => {
            match target.place {
                Some(TargetPlace::At(position)) => out.extend(place(position)),
                Some(TargetPlace::FromHere { distance, bearing }) => {
                    let (TargetBearing::True(angle) | TargetBearing::OffBow(angle)) = bearing;
                    out.push(miles(distance));
                    out.push(circle(angle));
                }
                None => {}
            }
            if let Some((course, moves)) = target.motion {
                out.push(circle(course));
                out.push(speed(moves));
            }
        }
        O::RateOfTurn(r) => out.push((in_degrees_per_second(*r), -60.000_001, 60.000_001)),
        O::Rudder(a) => out.push(signed(*a, 90.0)),
        O::SteeringControl(s) => {
            out.extend(s.rudder.map(|a| signed(a, 90.0)));
            out.extend(s.rudder_limit.map(|a| signed(a, 90.0)));
            out.extend(s.off_heading_limit.map(|a| signed(a, 180.0)));
            out.extend(s.turn_radius.map(miles));
            out.extend(s.off_track_limit.map(miles));
            out.extend(
                s.turn_rate
                    .map(|r| (in_degrees_per_second(r), 0.0, 60.000_001)),
            );
            out.extend(s.heading_to_steer.map(|d| circle(d.angle)));
            out.extend(s.track.map(|d| circle(d.angle)));
            if let SteeringOrigin::State { vessel_heading, .. } = s.origin {
                out.extend(vessel_heading.map(|d| circle(d.angle)));
            }
        }
        O::Autopilot(a) => {
            out.extend(a.cross_track.map(miles));
            for direction in [a.leg_bearing, a.bearing, a.heading_to_steer] {
                out.extend(direction.map(|d| circle(d.angle)));
            }
        }
        O::LegToWaypoint(l) => {
            out.extend(l.cross_track.map(miles));
            out.extend(l.range.map(miles));
            out.extend(l.destination_position.into_iter().flat_map(place));
            out.extend(l.bearing_true.map(circle));
            out.extend(l.closing.map(axis));
        }
        O::BearingToWaypoint(b) => {
            out.extend(b.position.into_iter().flat_map(place));
            out.extend(b.bearing_true.map(circle));
            out.extend(b.bearing_magnetic.map(circle));
            out.extend(b.distance.map(miles));
        }
        O::LegBearing(b) => {
            out.extend(b.bearing_true.map(circle));
            out.extend(b.bearing_magnetic.map(circle));
        }
        O::CrossTrack(l) => out.push(miles(*l)),
        O::Route(_) | O::Utc { .. } => {}
        O::Depth {
            below_transducer,
            offset,
        } => {
            out.push((in_metres(*below_transducer), 0.0, 12_000.0));
            out.extend(offset.map(|l| (in_metres(l), -100.0, 100.0)));
        }
        O::HullMotion { heave, pitch, roll } => {
            out.extend(heave.map(|l| (in_metres(l), -30.0, 30.0)));
            let tilts = pitch.iter().chain(roll);
            out.extend(tilts.map(|angle| (in_degrees(*angle), -180.000_001, 180.000_001)));
        }
        O::WaterTemperature(t) => out.push((in_celsius(*t), -5.000_001, 60.000_001)),
        O::Crew { input, .. } => crew_numbers(input, out),
    }
}

fn crew_numbers(input: &CrewInput, out: &mut Vec<Bounded>) {
    match input {
        CrewInput::LinesOut { kite, main } => {
            out.extend(kite.map(|l| (in_metres(l), 0.0, 1000.0)));
            out.extend(main.map(|l| (in_metres(l), 0.0, 1000.0)));
        }
        CrewInput::Moved { by, .. } => out.push((in_metres(*by), -1000.0, 1000.0)),
        CrewInput::Elevation(a) => out.push((in_degrees(*a), 0.0, 90.0)),
        CrewInput::Bearing(a) | CrewInput::Strike(StrikeWord::Fish { off_bow: a }) => {
            out.push((in_degrees(*a), -180.0, 180.0));
        }
        CrewInput::Turn { by, rate, in_s } => {
            out.push((in_degrees(*by), -720.0, 720.0));
            out.push((in_degrees_per_second(*rate), 0.009, 60.000_001));
            out.push((*in_s, 0.0, 3600.0));
        }
        CrewInput::Mark(said) => {
            if let Some(p) = said.position {
                out.push((in_degrees(p.latitude), -89.0, 89.0));
                out.push((in_degrees(p.longitude), -180.0, 180.0));
            }
            if let MarkHow::ByEye { range } = said.how {
                out.push((in_metres(range), 1.0, 20_000.0));
            }
        }
        CrewInput::OfMark { change, .. } => {
            if let MarkChange::Drifts(Some(way)) = change {
                out.push((in_degrees(way.set), 0.0, 360.0 - 1e-9));
                out.push((in_metres_per_second(way.drift), 0.0, 5.0));
            }
        }
        CrewInput::Silence { minutes } => out.push((*minutes, 0.0, 1440.0)),
        CrewInput::Launch(LaunchSaid::Begun(day)) => {
            for speed in [day.wind, day.gust, day.speed] {
                out.push((in_metres_per_second(speed), 0.0, 60.0));
            }
            out.push((in_degrees(day.off_bow), 0.0, 180.0));
            out.push((in_metres(day.kite_line), 0.0, 1000.0));
        }
        CrewInput::Launch(LaunchSaid::Answered { kite, main, .. }) => {
            for line in [kite, main].into_iter().flatten() {
                out.push((in_metres(*line), 0.0, 1000.0));
            }
        }
        CrewInput::Correct(correction) => match correction.by {
            CorrectBy::WindAngle(angle) => out.push((in_degrees(angle), -180.0, 180.0)),
            CorrectBy::WindSpeed(factor) | CorrectBy::Log(factor) => {
                out.push((factor, 0.25, 4.0));
            }
            CorrectBy::Compass {
                offset,
                sine,
                cosine,
            } => {
                for part in [offset, sine, cosine] {
                    out.push((in_degrees(part), -45.0, 45.0));
                }
            }
            CorrectBy::RateOfTurn(rate) => out.push((in_degrees_per_second(rate), -10.0, 10.0)),
        },
        CrewInput::Before { age_s, input, .. } => {
            out.push((*age_s, -5e9, 5e9));
            crew_numbers(input, out);
        }
        CrewInput::Bait(_)
        | CrewInput::Undo { .. }
        | CrewInput::MarkerInWater(_)
        | CrewInput::CallOffTurn
        | CrewInput::Plan { .. }
        | CrewInput::Bite
        | CrewInput::Strike(_)
        | CrewInput::Pass { .. }
        | CrewInput::Source { .. }
        | CrewInput::Acknowledge { .. }
        | CrewInput::Session(_)
        | CrewInput::Launch(LaunchSaid::Ended)
        | CrewInput::Uncorrect(_)
        | CrewInput::Forget
        | CrewInput::Setting { .. } => {}
    }
}
