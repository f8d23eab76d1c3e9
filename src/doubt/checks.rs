//! The table of checks: which fault of which instrument, and how patient each is.

use super::suspicion::{Fault, Instrument, Verdict};
use super::track::Track;
use super::view::View;
use super::{alone, heading, speed, wind};

/// One check.
pub(super) struct Check {
    pub fault: Fault,
    pub of: &'static [Instrument],
    /// A lie must last so many seconds to be told.
    pub told_after_s: u32,
    /// A source must hold in so many seconds to be trusted again.
    pub back_after_s: u32,
    pub judge: fn(&View<'_>, &Track) -> Verdict,
}

const fn check(
    fault: Fault,
    of: &'static [Instrument],
    told_after_s: u32,
    back_after_s: u32,
    judge: fn(&View<'_>, &Track) -> Verdict,
) -> Check {
    Check {
        fault,
        of,
        told_after_s,
        back_after_s,
        judge,
    }
}

/// All checks, in the order in which a source is blamed.
pub(super) const CHECKS: &[Check] = &[
    check(
        Fault::TwoSenders,
        &[
            Instrument::Wind,
            Instrument::Heading,
            Instrument::RateOfTurn,
            Instrument::Log,
            Instrument::GroundSpeed,
            Instrument::Course,
            Instrument::Position,
            Instrument::Variation,
        ],
        1,
        30,
        alone::two_senders,
    ),
    check(
        Fault::BeyondTheSea,
        &[
            Instrument::Wind,
            Instrument::Log,
            Instrument::GroundSpeed,
            Instrument::RateOfTurn,
        ],
        1,
        30,
        alone::range,
    ),
    check(
        Fault::VariationOff,
        &[Instrument::Variation],
        10,
        30,
        alone::variation,
    ),
    check(Fault::ClockOff, &[Instrument::Clock], 5, 30, alone::clock),
    check(
        Fault::PositionStill,
        &[Instrument::Position],
        2,
        20,
        speed::position_still,
    ),
    check(
        Fault::PositionJumped,
        &[Instrument::Position],
        2,
        20,
        speed::position_jumped,
    ),
    check(
        Fault::HeadingAgainstRate,
        &[Instrument::Heading],
        2,
        60,
        heading::heading_by_rate,
    ),
    check(
        Fault::RateAgainstHeading,
        &[Instrument::RateOfTurn],
        2,
        60,
        heading::rate_of_turn,
    ),
    check(
        Fault::HeadingAgainstCourse,
        &[Instrument::Heading],
        3,
        60,
        heading::heading_by_course,
    ),
    check(
        Fault::CourseAgainstHeading,
        &[Instrument::Course],
        3,
        60,
        heading::course,
    ),
    check(
        Fault::CompassesApart,
        &[Instrument::Heading],
        5,
        30,
        heading::compasses,
    ),
    check(Fault::LogLow, &[Instrument::Log], 5, 30, speed::log_low),
    check(Fault::LogHigh, &[Instrument::Log], 5, 30, speed::log_high),
    check(
        Fault::GroundAgainstPosition,
        &[Instrument::GroundSpeed],
        5,
        30,
        speed::ground_by_position,
    ),
    check(
        Fault::GroundStill,
        &[Instrument::GroundSpeed, Instrument::Course],
        3,
        20,
        speed::ground_still,
    ),
    check(Fault::LogStill, &[Instrument::Log], 3, 30, speed::log_still),
    check(
        Fault::LogJumped,
        &[Instrument::Log],
        3,
        30,
        speed::log_jumped,
    ),
    check(
        Fault::GroundJumped,
        &[Instrument::GroundSpeed],
        3,
        30,
        speed::ground_jumped,
    ),
    check(
        Fault::WindAgainstTurn,
        &[Instrument::Wind],
        2,
        8,
        wind::through_turn,
    ),
    check(Fault::VaneJumped, &[Instrument::Wind], 5, 8, wind::jumped),
    check(Fault::VaneStill, &[Instrument::Wind], 5, 20, wind::still),
    check(Fault::WindsApart, &[Instrument::Wind], 5, 30, wind::sensors),
];
