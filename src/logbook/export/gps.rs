//! GPX 1.1.

use geo_types::Point;
use gpx::{Gpx, GpxVersion, Time, Track, TrackSegment, Waypoint};
use time::OffsetDateTime;

use super::super::day::{BiteRow, DayRows, SessionRows};
use super::super::marks::LoggedMark;
use super::super::place::Place;
use super::super::rows::State;
use super::ExportError;
use crate::time::Millis;

/// Days as one GPX file.
///
/// # Errors
/// When a value does not fit the format.
pub fn gpx(days: &[DayRows]) -> Result<String, ExportError> {
    let sessions = || days.iter().flat_map(|day| &day.sessions);
    let tracks = sessions().flat_map(|session| {
        [
            track(session, "boat", Place::of_boat),
            track(session, "bait, by the model", Place::of_bait),
        ]
    });
    let bites = sessions().flat_map(|s| &s.bites).filter_map(bite);
    let marks = sessions().flat_map(|s| &s.marks).filter_map(mark);
    let file = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(concat!("skimwatch ", env!("CARGO_PKG_VERSION")).to_owned()),
        waypoints: bites.chain(marks).collect(),
        tracks: tracks.flatten().collect(),
        ..Gpx::default()
    };
    let mut bytes = Vec::new();
    gpx::write(&file, &mut bytes).map_err(|error| ExportError::new("GPX", &error))?;
    String::from_utf8(bytes).map_err(|error| ExportError::new("GPX", &error))
}

fn track(
    session: &SessionRows,
    of: &str,
    place: impl Fn(&State) -> Option<Place>,
) -> Option<Track> {
    let mut segments = vec![TrackSegment::new()];
    for state in &session.states {
        match place(state) {
            Some(place) => {
                let last = segments.last_mut()?;
                last.points.push(point(place, state.at));
            }
            // Where nothing is known, nothing is drawn.
            None => segments.push(TrackSegment::new()),
        }
    }
    segments.retain(|segment| !segment.points.is_empty());
    let mut track = Track::new();
    track.name = Some(format!("{of}, from {}", session.from));
    track.segments = segments;
    (!track.segments.is_empty()).then_some(track)
}

fn point(place: Place, at: Millis) -> Waypoint {
    let place = place.rounded();
    let mut point = Waypoint::new(Point::new(place.longitude_deg, place.latitude_deg));
    let nanoseconds = i128::from(at.0) * 1_000_000;
    point.time = OffsetDateTime::from_unix_timestamp_nanos(nanoseconds)
        .ok()
        .map(Time::from);
    point
}

fn bite(bite: &BiteRow) -> Option<Waypoint> {
    let mut point = point(Place::of_boat(&bite.state)?, bite.at);
    point.name = Some("bite".to_owned());
    point.type_ = Some("bite".to_owned());
    point.description = super::table::word(&bite.result.map(|(result, _)| result));
    Some(point)
}

/// A mark where it was after its last change.
fn mark(mark: &LoggedMark) -> Option<Waypoint> {
    let last = &mark.last;
    let place = Place {
        latitude_deg: last.latitude_deg?,
        longitude_deg: last.longitude_deg?,
    };
    let mut point = point(place, last.as_of);
    let number = || format!("mark {}", last.number);
    point.name = Some(last.name.clone().unwrap_or_else(number));
    point.type_ = Some("mark".to_owned());
    point.description = super::table::word(&last.source);
    Some(point)
}
