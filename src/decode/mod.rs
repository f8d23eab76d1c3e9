//! Sentence text in, typed observations with units out. Knows no clock, socket, file or thread,
//! nor what anybody does with an observation.

pub mod crew;
pub mod observation;
pub mod outcome;

pub use crew::{BaitState, CrewInput, Line, PlanAnswer, SessionMark};
pub use observation::{
    AutopilotDemand, BearingToWaypoint, Direction, GeoPosition, HeadingObservation, LegBearing,
    LegToWaypoint, North, Observation, Route, RouteScope, SteeringControl, SteeringMode,
    SteeringOrigin, TurnMode,
};
pub use outcome::{DecodeReject, Decoded, Talker};
