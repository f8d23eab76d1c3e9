//! The columns of all tables, their units and what they mean: one owner, for every format.

use super::super::day::{AdvisoryRow, BiteRow, MoveRow};
use super::super::marks::MarkRow;
use super::super::passes::PassRow;
use super::super::place::Place;
use super::super::rows::{Span, State};
use super::table::{Get, Of, word};
use crate::decode::BaitState;
use crate::time::Millis;

const LATITUDE: &str = "of the boat, north positive, WGS 84";
const LONGITUDE: &str = "of the boat, east positive, WGS 84";
const HEADING: &str = "true heading";
const SPEED_WATER: &str = "speed through the water, or what stood in for it";
const WIND: &str = "true wind over the water at the height of the sensor";
const WIND_FROM: &str = "where that wind came from, true";
const KITE_LINE: &str = "kite line out by the crew's count, rod tip to kite";
const MAIN_LINE: &str = "main line out by the crew's count, rod tip to bait";
const BAIT: &str = "what the bait did by the model: airborne, skipping or dragging";
const ELEVATION: &str = "kite line above the horizon at the kite rod, by the model";
const OFF_ASTERN: &str = "kite off dead astern, + to starboard, by the model";

pub(super) const STATES: &[Of<State>] = &[
    Of("at", "the moment", Get::Time(|s| Some(s.at))),
    Of("latitude_deg", LATITUDE, Get::Real(|s| s.latitude_deg)),
    Of("longitude_deg", LONGITUDE, Get::Real(|s| s.longitude_deg)),
    Of(
        "heading_deg_true",
        HEADING,
        Get::Real(|s| s.heading_deg_true),
    ),
    Of(
        "rate_of_turn_deg_s",
        "rate of turn, + to starboard",
        Get::Real(|s| s.rate_of_turn_deg_s),
    ),
    Of(
        "speed_water_mps",
        SPEED_WATER,
        Get::Real(|s| s.speed_water_mps),
    ),
    Of(
        "speed_ground_mps",
        "speed over ground",
        Get::Real(|s| s.speed_ground_mps),
    ),
    Of(
        "course_deg_true",
        "course over ground, true",
        Get::Real(|s| s.course_deg_true),
    ),
    Of(
        "wind_at_sensor_mps",
        WIND,
        Get::Real(|s| s.wind_at_sensor_mps),
    ),
    Of(
        "wind_from_deg_true",
        WIND_FROM,
        Get::Real(|s| s.wind_from_deg_true),
    ),
    Of("kite_line_m", KITE_LINE, Get::Real(|s| s.kite_line_m)),
    Of("main_line_m", MAIN_LINE, Get::Real(|s| s.main_line_m)),
    Of(
        "doing",
        "what the crew was about: fishing, launch, strike or stopped",
        Get::Text(|s| word(&s.doing)),
    ),
    Of("bait", BAIT, Get::Text(|s| word(&s.bait))),
    Of(
        "bait_told",
        "what the crew last said that the bait did",
        Get::Text(|s| word(&s.bait_told)),
    ),
    Of(
        "kite_elevation_deg",
        ELEVATION,
        Get::Real(|s| s.kite_elevation_deg),
    ),
    Of(
        "kite_off_astern_deg",
        OFF_ASTERN,
        Get::Real(|s| s.kite_off_astern_deg),
    ),
    Of(
        "immersion",
        "share of the time that the bait is in the water, 0 to 1, by the model",
        Get::Real(|s| s.immersion),
    ),
    Of(
        "bait_latitude_deg",
        "of the bait, by the model",
        Get::Real(|s| bait_place(s).map(|place| place.latitude_deg)),
    ),
    Of(
        "bait_longitude_deg",
        "of the bait, by the model",
        Get::Real(|s| bait_place(s).map(|place| place.longitude_deg)),
    ),
];

fn bait_place(state: &State) -> Option<Place> {
    Place::of_bait(state).map(Place::rounded)
}

pub(super) const SPANS: &[Of<Span>] = &[
    Of("from", "begin", Get::Time(|s| Some(s.from))),
    Of("to", "end", Get::Time(|s| Some(s.to))),
    Of(
        "doing",
        "what the crew was about: fishing, launch, strike or stopped",
        Get::Text(|s| word(&s.doing)),
    ),
    Of("bait", BAIT, Get::Text(|s| word(&s.bait))),
    Of(
        "point_of_sail",
        "how far off the bow the true wind came",
        Get::Text(|s| word(&s.point_of_sail)),
    ),
    Of(
        "tack",
        "the side over which it came: port or starboard",
        Get::Text(|s| word(&s.tack)),
    ),
];

pub(super) const BITES: &[Of<BiteRow>] = &[
    Of("at", "when it was told", Get::Time(|b| Some(b.at))),
    Of(
        "result",
        "how it ended: missed, fish_off, cut_off, landed or released",
        Get::Text(|b| word(&b.result.map(|(result, _)| result))),
    ),
    Of(
        "result_at",
        "when that was told",
        Get::Time(|b| b.result.map(|(_, at)| at)),
    ),
    Of(
        "latitude_deg",
        LATITUDE,
        Get::Real(|b| b.state.latitude_deg),
    ),
    Of(
        "longitude_deg",
        LONGITUDE,
        Get::Real(|b| b.state.longitude_deg),
    ),
    Of(
        "heading_deg_true",
        HEADING,
        Get::Real(|b| b.state.heading_deg_true),
    ),
    Of(
        "speed_water_mps",
        SPEED_WATER,
        Get::Real(|b| b.state.speed_water_mps),
    ),
    Of(
        "wind_at_sensor_mps",
        WIND,
        Get::Real(|b| b.state.wind_at_sensor_mps),
    ),
    Of(
        "wind_from_deg_true",
        WIND_FROM,
        Get::Real(|b| b.state.wind_from_deg_true),
    ),
    Of("kite_line_m", KITE_LINE, Get::Real(|b| b.state.kite_line_m)),
    Of("main_line_m", MAIN_LINE, Get::Real(|b| b.state.main_line_m)),
    Of("bait", BAIT, Get::Text(|b| word(&b.state.bait))),
    Of(
        "kite_elevation_deg",
        ELEVATION,
        Get::Real(|b| b.state.kite_elevation_deg),
    ),
    Of(
        "kite_off_astern_deg",
        OFF_ASTERN,
        Get::Real(|b| b.state.kite_off_astern_deg),
    ),
];

pub(super) const ADVISORIES: &[Of<AdvisoryRow>] = &[
    Of(
        "advisory",
        "its id, unique within a session of the program",
        Get::Text(|a| Some(a.id.clone())),
    ),
    Of("kind", "what threatened", Get::Text(|a| word(&a.kind))),
    Of(
        "title",
        "its first headline",
        Get::Text(|a| Some(a.title.clone())),
    ),
    Of(
        "raised_at",
        "when it was raised",
        Get::Time(|a| Some(a.raised_at)),
    ),
    Of(
        "ended_at",
        "when it ended",
        Get::Time(|a| a.ended.map(|(at, _)| at)),
    ),
    Of(
        "outcome",
        "how it ended",
        Get::Text(|a| word(&a.ended.map(|(_, outcome)| outcome))),
    ),
    Of(
        "revisions",
        "how many revisions it had",
        Get::Whole(|a| Some(i64::from(a.revisions))),
    ),
];

pub(super) const MOVES: &[Of<MoveRow>] = &[
    Of("at", "when it was told", Get::Time(|m| Some(m.at))),
    Of("line", "kite or main", Get::Text(|m| word(&m.line))),
    Of("by_m", "+ let out, - wound in", Get::Real(|m| Some(m.by_m))),
    Of(
        "asked_by",
        "the advisory that had asked for it",
        Get::Text(|m| m.asked_by.clone()),
    ),
];

pub(super) const TAPS: &[Of<(Millis, BaitState)>] = &[
    Of("at", "when", Get::Time(|(at, _)| Some(*at))),
    Of(
        "bait",
        "airborne, skipping or dragging",
        Get::Text(|(_, bait)| word(bait)),
    ),
];

pub(super) const MARKS: &[Of<MarkRow>] = &[
    Of("at", "when", Get::Time(|m| Some(m.at))),
    Of(
        "number",
        "number of the mark: up to 999 the crew's, above it the network's",
        Get::Whole(|m| Some(i64::from(m.number))),
    ),
    Of(
        "event",
        "made, restored, moved, named, drifts, removed or gone",
        Get::Text(|m| word(&m.event)),
    ),
    Of(
        "marked_at",
        "when it was marked",
        Get::Time(|m| Some(m.marked_at)),
    ),
    Of(
        "source",
        "who told of it, and how: here, by_eye, typed, waypoint, destination, target or \
         person_in_water",
        Get::Text(|m| word(&m.source)),
    ),
    Of("name", "its name", Get::Text(|m| m.name.clone())),
    Of(
        "as_of",
        "since when it was where the position says",
        Get::Time(|m| Some(m.as_of)),
    ),
    Of(
        "latitude_deg",
        "of the mark, north positive, WGS 84",
        Get::Real(|m| m.latitude_deg),
    ),
    Of(
        "longitude_deg",
        "of the mark, east positive, WGS 84",
        Get::Real(|m| m.longitude_deg),
    ),
    Of(
        "set_deg_true",
        "where to it drifts over the ground, true",
        Get::Real(|m| m.set_deg_true),
    ),
    Of("drift_mps", "how fast", Get::Real(|m| m.drift_mps)),
    Of(
        "sigma_m",
        "uncertainty of that position then, one standard deviation",
        Get::Real(|m| Some(m.sigma_m)),
    ),
];

pub(super) const PASSES: &[Of<PassRow>] = &[
    Of(
        "mark",
        "number of the mark",
        Get::Whole(|p| Some(i64::from(p.mark))),
    ),
    Of(
        "number",
        "which pass over this mark: 1, and 2 after the first",
        Get::Whole(|p| Some(i64::from(p.number))),
    ),
    Of(
        "offered_at",
        "when it was first offered",
        Get::Time(|p| Some(p.offered_at)),
    ),
    Of(
        "chance",
        "chance told when it was accepted, or last: the bait within 15 m of the marked place, \
         skipping; 0 to 1",
        Get::Real(|p| Some(p.chance)),
    ),
    Of(
        "chance_of_marked",
        "the same for what was seen there, whose place is uncertain",
        Get::Real(|p| Some(p.chance_of_marked)),
    ),
    Of(
        "closest_foreseen_m",
        "how near the bait was then foreseen to come",
        Get::Real(|p| Some(p.closest_foreseen_m)),
    ),
    Of(
        "accepted_at",
        "when the crew accepted it",
        Get::Time(|p| p.accepted_at),
    ),
    Of("ended_at", "when it ended", Get::Time(|p| p.ended_at)),
    Of(
        "ended",
        "how it ended: passed, declined, ended or dropped",
        Get::Text(|p| word(&p.ended)),
    ),
    Of(
        "closest_m",
        "how near the bait came, by the model",
        Get::Real(|p| p.closest_m),
    ),
    Of("closest_at", "when", Get::Time(|p| p.closest_at)),
    Of(
        "skipping_share",
        "share of the 20 s before in which it skipped, by the model; 0 to 1",
        Get::Real(|p| p.skipping_share),
    ),
];
