//! What a sentence can tell us. One sentence may give several observations; a sentence whose
//! status says "not valid", or whose fields are empty, gives none.
//!
//! Conventions: directions and bearings are clockwise from north (or from the bow where said) in
//! `0 <= x < 2 pi`; wind directions are where the wind comes FROM; signed angles, rates and
//! distances are positive to starboard; longitudes are positive east, latitudes positive north.

use chrono::{NaiveDate, NaiveTime};

use super::crew::CrewInput;
use super::geo::GeoPosition;
use crate::units::{Angle, AngularVelocity, Length, ThermodynamicTemperature, Velocity};

/// One fact read from one sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum Observation {
    /// Wind as the moving boat feels it (MWV with R, VWR). At least one part is present.
    ApparentWind {
        /// Where it comes from, clockwise from the bow.
        angle: Option<Angle>,
        /// Its speed.
        speed: Option<Velocity>,
    },
    /// Wind over the water as an instrument worked it out, relative to the bow (MWV with T, VWT).
    TheoreticalWind {
        /// Where it comes from, clockwise from the bow.
        angle: Option<Angle>,
        /// Its speed.
        speed: Option<Velocity>,
    },
    /// Wind relative to north as an instrument worked it out (MWD). The sentence does not say
    /// whether that is over the water or over the ground.
    WindDirection {
        /// Where it comes from, clockwise from true north.
        direction_true: Option<Angle>,
        /// Where it comes from, clockwise from magnetic north.
        direction_magnetic: Option<Angle>,
        /// Its speed.
        speed: Option<Velocity>,
    },
    /// Where the bow points (HDT, THS, HDM, HDG, VHW).
    Heading(HeadingObservation),
    /// Magnetic variation, positive east (HDG, RMC). True = magnetic + variation.
    Variation(Angle),
    /// Speed through the water (VHW, VBW).
    WaterSpeed {
        /// Along the keel, positive ahead.
        longitudinal: Velocity,
        /// Across it, positive to starboard; only two-axis logs give it.
        transverse: Option<Velocity>,
    },
    /// Direction of the track over the ground (VTG, RMC). At least one part is present.
    CourseOverGround {
        /// Clockwise from true north.
        true_north: Option<Angle>,
        /// Clockwise from magnetic north.
        magnetic: Option<Angle>,
    },
    /// Speed over the ground, never negative (VTG, RMC).
    SpeedOverGround(Velocity),
    /// Speed over the ground along and across the keel (VBW).
    GroundSpeedAxes {
        /// Along the keel, positive ahead.
        longitudinal: Velocity,
        /// Across it, positive to starboard.
        transverse: Option<Velocity>,
    },
    /// Where the boat is (RMC, GGA, GNS, GLL).
    Position(GeoPosition),
    /// Rate of turn, positive when the bow goes to starboard (ROT).
    RateOfTurn(AngularVelocity),
    /// Rudder angle, positive when it turns the boat to starboard (RSA).
    Rudder(Angle),
    /// Heading the steering system has been told to keep (HSC). At least one part is present.
    HeadingToSteer {
        /// Clockwise from true north.
        true_north: Option<Angle>,
        /// Clockwise from magnetic north.
        magnetic: Option<Angle>,
    },
    /// What a heading or track control system does or is told to do (HTC, HTD).
    SteeringControl(SteeringControl),
    /// What a navigator asks of the autopilot (APB).
    Autopilot(AutopilotDemand),
    /// The leg being sailed and how far its end is (RMB).
    LegToWaypoint(LegToWaypoint),
    /// Bearing and distance to a waypoint (BWC).
    BearingToWaypoint(BearingToWaypoint),
    /// Bearing of the leg from its origin to its destination (BOD).
    LegBearing(LegBearing),
    /// Distance off the track, positive when the track lies to starboard, so steer right (XTE).
    CrossTrack(Length),
    /// Where a waypoint is (WPL).
    Waypoint {
        /// Its name, without padding.
        name: String,
        /// Where it is.
        position: GeoPosition,
    },
    /// Something that another instrument follows (TTM, TLL).
    Target(Target),
    /// A person in the water, or the emitter of one (MOB).
    PersonInWater(GeoPosition),
    /// A whole route, put together from its sentences (RTE).
    Route(Route),
    /// Time of day, UTC, with the date where the sentence has one (ZDA, RMC, GGA, GNS, GLL).
    /// It is the sender's own clock: data, never a time stamp of ours.
    Utc {
        /// Calendar date as sent (a receiver with a rolled-over week counter sends a wrong one).
        date: Option<NaiveDate>,
        /// Time of day; a leap second is kept the way chrono keeps it.
        time: NaiveTime,
    },
    /// Depth of water (DPT, DBT).
    Depth {
        /// From the transducer down.
        below_transducer: Length,
        /// Positive from transducer up to the waterline, negative from transducer down to the keel.
        offset: Option<Length>,
    },
    /// How the hull stands in the waves (XDR). At least one part is present. Signs are the sender's.
    HullMotion {
        /// Above her mean place.
        heave: Option<Length>,
        /// Bow against stern.
        pitch: Option<Angle>,
        /// To one side.
        roll: Option<Angle>,
    },
    /// Temperature of the water (MTW).
    WaterTemperature(ThermodynamicTemperature),
    /// Something the crew said or did (our own sentence, see [`crate::decode::crew`]).
    Crew {
        /// Sequence number of the input, by which a later one can take it back.
        seq: u32,
        /// What they said.
        input: CrewInput,
    },
}

/// A heading with what is known about its reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HeadingObservation {
    /// Relative to true north.
    True {
        /// Clockwise from true north.
        heading: Angle,
    },
    /// Relative to magnetic north, deviation already applied by the sender.
    Magnetic {
        /// Clockwise from magnetic north.
        heading: Angle,
    },
    /// As the compass sensor reads. Magnetic = sensor + deviation; true = magnetic + variation.
    Compass {
        /// Clockwise from the sensor's north.
        sensor: Angle,
        /// Positive east; `None` when the sender leaves it empty (not the same as zero).
        deviation: Option<Angle>,
        /// Positive east; `None` when the sender leaves it empty. When present the same value is
        /// also given as [`Observation::Variation`].
        variation: Option<Angle>,
    },
}

/// Which north a direction is measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum North {
    /// True north.
    True,
    /// Magnetic north.
    Magnetic,
}

/// A direction together with its reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Direction {
    /// Clockwise from `north`.
    pub angle: Angle,
    /// What it is measured from.
    pub north: North,
}

/// How a steering system steers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SteeringMode {
    /// Manual, at the main steering.
    Manual,
    /// The heading controller stands alone.
    StandAlone,
    /// Heading control with commands from outside.
    HeadingControl,
    /// Track control with commands from outside.
    TrackControl,
    /// Rudder control with commands from outside.
    RudderControl,
}

/// What a steering system holds constant in a turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TurnMode {
    /// The radius.
    Radius,
    /// The rate of turn.
    Rate,
    /// Neither.
    Uncontrolled,
}

/// Content of HTC (commands) and HTD (state) of a heading or track control system. Every field is
/// as sent; `None` is an empty field.
#[derive(Debug, Clone, PartialEq)]
pub struct SteeringControl {
    /// Whether this is a report of the system's state (HTD) or a command to it (HTC).
    pub origin: SteeringOrigin,
    /// Whether the system is overridden.
    pub override_active: Option<bool>,
    /// Commanded rudder, positive when it turns the boat to starboard.
    pub rudder: Option<Angle>,
    /// How it steers.
    pub steering_mode: Option<SteeringMode>,
    /// What it holds constant in a turn.
    pub turn_mode: Option<TurnMode>,
    /// Largest rudder angle it may use, either way.
    pub rudder_limit: Option<Angle>,
    /// Largest heading error before it warns.
    pub off_heading_limit: Option<Angle>,
    /// Radius it turns with.
    pub turn_radius: Option<Length>,
    /// Rate it turns with, either way.
    pub turn_rate: Option<AngularVelocity>,
    /// Commanded heading, with the reference that the sentence gives for all its directions.
    pub heading_to_steer: Option<Direction>,
    /// Largest distance off the track before it warns.
    pub off_track_limit: Option<Length>,
    /// Commanded track.
    pub track: Option<Direction>,
}

/// Which of the two steering-control sentences it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SteeringOrigin {
    /// HTC: what the system is told to do.
    Command {
        /// Whether the sender orders it or reports what is set; older editions do not say.
        flag: Option<SteeringFlag>,
    },
    /// HTD: the system says what it does.
    State {
        /// Rudder within its limit.
        rudder_within_limit: Option<bool>,
        /// Heading within its limit.
        heading_within_limit: Option<bool>,
        /// Track within its limit.
        track_within_limit: Option<bool>,
        /// Heading of the boat.
        vessel_heading: Option<Direction>,
    },
}

/// What an HTC sentence is meant as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SteeringFlag {
    /// A report of the present settings.
    Report,
    /// A command to change them.
    Command,
}

/// What a navigator asks of the autopilot (APB).
#[derive(Debug, Clone, PartialEq)]
pub struct AutopilotDemand {
    /// Distance off the track, positive when the track lies to starboard (steer right).
    pub cross_track: Option<Length>,
    /// Inside the arrival circle of the destination.
    pub arrived: Option<bool>,
    /// Past the perpendicular to the leg at the destination.
    pub passed: Option<bool>,
    /// Bearing of the leg, from its origin to the destination.
    pub leg_bearing: Option<Direction>,
    /// Name of the destination.
    pub destination: Option<String>,
    /// Bearing from here to the destination.
    pub bearing: Option<Direction>,
    /// Heading to steer to get there.
    pub heading_to_steer: Option<Direction>,
}

/// The leg being sailed (RMB).
#[derive(Debug, Clone, PartialEq)]
pub struct LegToWaypoint {
    /// Distance off the track, positive when the track lies to starboard (steer right). The
    /// sentence stops at 9.9 nautical miles.
    pub cross_track: Option<Length>,
    /// Name of the waypoint the leg starts from.
    pub origin: Option<String>,
    /// Name of the waypoint it leads to.
    pub destination: Option<String>,
    /// Where that waypoint is.
    pub destination_position: Option<GeoPosition>,
    /// Distance to it. The sentence stops at 999.9 nautical miles.
    pub range: Option<Length>,
    /// Bearing to it from here, from true north.
    pub bearing_true: Option<Angle>,
    /// Speed at which it comes nearer; negative when going away.
    pub closing: Option<Velocity>,
    /// Arrived, by circle or perpendicular.
    pub arrived: Option<bool>,
}

/// Bearing and distance to a waypoint along the great circle (BWC).
#[derive(Debug, Clone, PartialEq)]
pub struct BearingToWaypoint {
    /// Name of the waypoint.
    pub name: Option<String>,
    /// Where it is.
    pub position: Option<GeoPosition>,
    /// Bearing from here, from true north.
    pub bearing_true: Option<Angle>,
    /// Bearing from here, from magnetic north.
    pub bearing_magnetic: Option<Angle>,
    /// Distance from here.
    pub distance: Option<Length>,
}

/// Bearing of a leg (BOD).
#[derive(Debug, Clone, PartialEq)]
pub struct LegBearing {
    /// From origin to destination, from true north.
    pub bearing_true: Option<Angle>,
    /// From origin to destination, from magnetic north.
    pub bearing_magnetic: Option<Angle>,
    /// Name of the destination.
    pub destination: Option<String>,
    /// Name of the origin; a course straight to a waypoint has none.
    pub origin: Option<String>,
}

/// Something that another instrument follows (TTM, TLL).
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// The sender's number of it.
    pub number: u32,
    /// Its name, without padding.
    pub name: Option<String>,
    /// Where it is; `None` when the sender has lost it.
    pub place: Option<TargetPlace>,
    /// Its true course and speed over the ground.
    pub motion: Option<(Angle, Velocity)>,
}

/// Where a target is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TargetPlace {
    /// At this place.
    At(GeoPosition),
    /// So far from the own ship.
    FromHere {
        /// How far.
        distance: Length,
        /// In which direction.
        bearing: TargetBearing,
    },
}

/// Direction of a target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TargetBearing {
    /// Clockwise from true north.
    True(Angle),
    /// Clockwise from the bow.
    OffBow(Angle),
}

/// What part of a route its names cover.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RouteScope {
    /// All its waypoints.
    Complete,
    /// The active leg's origin and destination, then the rest.
    Working,
}

/// A route as its list of waypoint names (RTE).
#[derive(Debug, Clone, PartialEq)]
pub struct Route {
    /// Name or number of the route.
    pub id: Option<String>,
    /// What part of it the names cover.
    pub scope: RouteScope,
    /// Names of its waypoints in order, without padding.
    pub waypoints: Vec<String>,
}
