//! Marks: what the crew says of them, and the list.

use std::sync::Arc;

use axum::Json;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::response::Response;
use serde::Deserialize;
use utoipa::ToSchema;

use super::body::Body;
use super::crew::{Answer, record};
use super::marks_state::{MarkAnswer, marks};
use super::problem::Problem;
use super::ranges;
use super::read::fresh;
use super::room::Room;
use super::sources::Recorded;
use crate::decode::{CrewInput, GeoPosition, MarkChange, MarkHow, MarkSaid, SetAndDrift};
use crate::geodesy::{Offset, Position};
use crate::units;
use crate::vessel::MARK_NAME_MAX;

/// A place to fish: here and now, or a position, or a bearing and a distance from the boat.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkBody {
    /// Its name: unaccented letters, digits, blanks or hyphens.
    #[serde(default)]
    pub name: Option<String>,
    /// North positive; with the longitude.
    #[serde(default)]
    pub latitude_deg: Option<f64>,
    /// East positive; with the latitude.
    #[serde(default)]
    pub longitude_deg: Option<f64>,
    /// Bearing from the bow, + to starboard; with `range_m`.
    #[serde(default)]
    pub off_bow_deg: Option<f64>,
    /// True bearing instead of that; with `range_m`.
    #[serde(default)]
    pub bearing_deg_true: Option<f64>,
    /// Distance as seen by eye.
    #[serde(default)]
    pub range_m: Option<f64>,
}

/// A name for a mark.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkNameBody {
    /// Its name: unaccented letters, digits, blanks or hyphens; empty for none.
    pub name: String,
}

/// How a mark moves over the ground; without the two, that is not known.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DriftBody {
    /// Where to, true.
    #[serde(default)]
    pub set_deg_true: Option<f64>,
    /// How fast.
    #[serde(default)]
    pub drift_mps: Option<f64>,
}

/// A name that a sentence can carry; `None` for an empty one.
fn sayable(name: Option<String>) -> Result<Option<String>, Problem> {
    let name = name.filter(|name| !name.trim().is_empty());
    if let Some(name) = &name {
        let plain = |c: char| c.is_ascii_alphanumeric() || c == ' ' || c == '-';
        if name.chars().count() > MARK_NAME_MAX || !name.chars().all(plain) {
            return Err(Problem::incomplete(
                "name",
                "a sentence on the boat's network cannot carry this name",
                "use up to 20 unaccented letters, digits, blanks or hyphens",
            ));
        }
    }
    Ok(name)
}

impl MarkBody {
    /// What is to be said. The place goes into the sentence, so that it is known wherever that is
    /// read.
    fn said(self, room: &Room) -> Result<MarkSaid, Problem> {
        let (position, how) = self.place(room)?;
        Ok(MarkSaid {
            name: sayable(self.name)?,
            position,
            how,
            number: None,
        })
    }

    fn place(&self, room: &Room) -> Result<(Option<GeoPosition>, MarkHow), Problem> {
        let snapshot = room.snapshot();
        let boat = snapshot.vessel.position.as_ref().map(|here| here.value);
        let seen =
            self.range_m.is_some() || self.off_bow_deg.is_some() || self.bearing_deg_true.is_some();
        match (self.latitude_deg, self.longitude_deg) {
            (Some(_) | None, Some(_)) | (Some(_), None) if seen => Err(Problem::incomplete(
                "range_m",
                "both a position and a distance are given",
                "send latitude_deg and longitude_deg, or range_m and a bearing",
            )),
            (None, None) if seen => {
                let (way, range_m) = self.seen(&snapshot.vessel)?;
                let boat = boat.ok_or_else(|| Problem::boat_unknown("position"))?;
                let place = boat.moved(way).map_err(|why| Problem::near_pole(&why))?;
                let how = MarkHow::ByEye {
                    range: units::metres(range_m),
                };
                Ok((Some(place.into()), how))
            }
            (None, None) => {
                let place = boat.map(Position::usable).transpose();
                let place = place.map_err(|why| Problem::near_pole(&why))?;
                Ok((place.map(GeoPosition::from), MarkHow::Here))
            }
            (Some(latitude), Some(longitude)) => {
                let place = Position {
                    latitude_deg: ranges::LATITUDE.check(latitude)?,
                    longitude_deg: ranges::LONGITUDE.check(longitude)?,
                };
                Ok((Some(place.into()), MarkHow::Typed))
            }
            (latitude, _) => {
                let absent = if latitude.is_none() {
                    "latitude_deg"
                } else {
                    "longitude_deg"
                };
                Err(Problem::incomplete(
                    absent,
                    "half a position is given",
                    "send latitude_deg and longitude_deg, or neither for here and now",
                ))
            }
        }
    }

    /// The way to what was seen, and its length.
    fn seen(&self, vessel: &crate::vessel::VesselNow) -> Result<(Offset, f64), Problem> {
        let range_m = self.range_m.ok_or_else(|| {
            Problem::incomplete(
                "range_m",
                "a bearing without a distance",
                "send range_m, as well as it can be seen",
            )
        })?;
        let range_m = ranges::MARK_RANGE.check(range_m)?;
        let bearing_deg = match (self.off_bow_deg, self.bearing_deg_true) {
            (Some(off_bow_deg), None) => {
                let off_bow_deg = ranges::MARK_OFF_BOW.check(off_bow_deg)?;
                let heading = vessel.heading_true_rad.as_ref();
                let heading = heading.ok_or_else(|| Problem::boat_unknown("heading"))?;
                heading.value.to_degrees() + off_bow_deg
            }
            (None, Some(bearing_deg)) => ranges::MARK_BEARING.check(bearing_deg)?,
            _ => {
                return Err(Problem::incomplete(
                    "off_bow_deg",
                    "not one bearing is given",
                    "send off_bow_deg or bearing_deg_true with range_m",
                ));
            }
        };
        Ok((Offset::polar(bearing_deg.to_radians(), range_m), range_m))
    }
}

/// Marks, with bearing, distance, age and drift: those of the crew oldest first, then those of the
/// network.
#[utoipa::path(get, path = "/v1/marks", tag = "read",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "The marks", body = Vec<MarkAnswer>)))]
pub(super) async fn list(State(room): State<Arc<Room>>) -> Response {
    fresh(Json(marks(&room.snapshot())))
}

/// Marks a place.
#[utoipa::path(post, path = "/v1/crew/mark", tag = "crew",
    security(("phone" = ["crew"])), request_body = MarkBody,
    responses((status = 202, body = Recorded), (status = 409, body = Problem,
        description = "The boat's position or heading is not known",
        content_type = "application/problem+json")))]
pub(super) async fn mark(State(room): State<Arc<Room>>, Body(body): Body<MarkBody>) -> Answer {
    let said = body.said(&room)?;
    record(&room, CrewInput::Mark(said)).await
}

/// Records a word of a mark that is there.
async fn of_mark(
    room: &Room,
    number: Result<Path<u32>, PathRejection>,
    change: MarkChange,
) -> Answer {
    let Path(number) =
        number.map_err(|rejection| Problem::unreadable_path(&rejection.body_text()))?;
    let snapshot = room.snapshot();
    let found = snapshot.marks.iter().find(|mark| mark.number == number);
    let mark = found.ok_or_else(|| Problem::no_such_mark(number))?;
    if change != MarkChange::Removed && !mark.is_of_crew() {
        return Err(Problem::mark_of_network(number));
    }
    record(room, CrewInput::OfMark { number, change }).await
}

/// Removes a mark. One of the network comes back when the network gives it another number.
#[utoipa::path(delete, path = "/v1/crew/mark/{number}", tag = "crew",
    security(("phone" = ["crew"])),
    params(("number" = u32, Path, description = "Number of a mark")),
    responses((status = 202, body = Recorded), (status = 404, body = Problem,
        description = "No such mark", content_type = "application/problem+json")))]
pub(super) async fn remove(
    State(room): State<Arc<Room>>,
    number: Result<Path<u32>, PathRejection>,
) -> Answer {
    of_mark(&room, number, MarkChange::Removed).await
}

/// Names a mark of the crew.
#[utoipa::path(post, path = "/v1/crew/mark/{number}/name", tag = "crew",
    security(("phone" = ["crew"])),
    request_body = MarkNameBody,
    params(("number" = u32, Path, description = "Number of a mark of the crew")),
    responses((status = 202, body = Recorded), (status = 404, body = Problem,
        description = "No such mark", content_type = "application/problem+json"),
        (status = 409, body = Problem, description = "It is the network's",
        content_type = "application/problem+json")))]
pub(super) async fn name(
    State(room): State<Arc<Room>>,
    number: Result<Path<u32>, PathRejection>,
    Body(body): Body<MarkNameBody>,
) -> Answer {
    let name = sayable(Some(body.name))?;
    of_mark(&room, number, MarkChange::Named(name)).await
}

/// Says how a mark of the crew moves over the ground, from now on.
#[utoipa::path(post, path = "/v1/crew/mark/{number}/drift", tag = "crew",
    security(("phone" = ["crew"])),
    request_body = DriftBody,
    params(("number" = u32, Path, description = "Number of a mark of the crew")),
    responses((status = 202, body = Recorded), (status = 404, body = Problem,
        description = "No such mark", content_type = "application/problem+json"),
        (status = 409, body = Problem, description = "It is the network's",
        content_type = "application/problem+json")))]
pub(super) async fn drift(
    State(room): State<Arc<Room>>,
    number: Result<Path<u32>, PathRejection>,
    Body(body): Body<DriftBody>,
) -> Answer {
    let way = match (body.set_deg_true, body.drift_mps) {
        (None, None) => None,
        (Some(set_deg), Some(drift_mps)) => Some(SetAndDrift {
            set: units::degrees(ranges::DRIFT_SET.check(set_deg)?),
            drift: units::metres_per_second(ranges::DRIFT.check(drift_mps)?),
        }),
        (set, _) => {
            let absent = if set.is_none() {
                "set_deg_true"
            } else {
                "drift_mps"
            };
            return Err(Problem::incomplete(
                absent,
                "half a drift is given",
                "send set_deg_true and drift_mps, or neither when it is not known",
            ));
        }
    };
    of_mark(&room, number, MarkChange::Drifts(way)).await
}
