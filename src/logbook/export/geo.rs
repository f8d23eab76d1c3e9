//! GeoJSON, RFC 7946.

use geojson::{Feature, FeatureCollection, Geometry, GeometryValue};
use serde_json::{Value, json};

use super::super::day::{BiteRow, DayRows, SessionRows};
use super::super::marks::LoggedMark;
use super::super::passes::PassRow;
use super::super::place::Place;
use super::super::rows::State;

/// Days as one collection of features: lines of boat and bait for each session, a point for each
/// bite and mark, and a pass where its mark is. What has no position has no geometry.
#[must_use]
pub fn geojson(days: &[DayRows]) -> String {
    let mut features = Vec::new();
    for session in days.iter().flat_map(|day| &day.sessions) {
        features.extend(line(session, "boat", Place::of_boat));
        features.extend(line(session, "bait", Place::of_bait));
        features.extend(session.bites.iter().map(bite));
        features.extend(session.marks.iter().map(mark));
        let passes = session.passes.iter();
        features.extend(passes.map(|one| pass(one, &session.marks)));
    }
    FeatureCollection {
        bbox: None,
        features,
        foreign_members: None,
    }
    .to_string()
}

fn position(place: Place) -> Vec<f64> {
    let place = place.rounded();
    vec![place.longitude_deg, place.latitude_deg]
}

/// A line of at least two points, cut where nothing was known and where it crosses the antimeridian.
fn line(
    session: &SessionRows,
    what: &str,
    place: impl Fn(&State) -> Option<Place>,
) -> Option<Feature> {
    let mut lines: Vec<Vec<Vec<f64>>> = vec![Vec::new()];
    let mut times: Vec<Vec<Value>> = vec![Vec::new()];
    for state in &session.states {
        let here = place(state).map(position);
        let last = lines.last().and_then(|line| line.last());
        let crosses = match (&here, last) {
            (Some(here), Some(last)) => (here[0] - last[0]).abs() > 180.0,
            _ => here.is_none(),
        };
        if crosses {
            lines.push(Vec::new());
            times.push(Vec::new());
        }
        if let (Some(here), Some(line), Some(at)) = (here, lines.last_mut(), times.last_mut()) {
            line.push(here);
            at.push(json!(state.at));
        }
    }
    lines.retain(|line| line.len() > 1);
    times.retain(|at| at.len() > 1);
    (!lines.is_empty()).then(|| {
        let properties = json!({"what": what, "session_from": session.from, "times": times});
        feature(
            Some(GeometryValue::new_multi_line_string(lines)),
            &properties,
        )
    })
}

fn bite(bite: &BiteRow) -> Feature {
    let state = &bite.state;
    let properties = json!({
        "what": "bite",
        "at": bite.at,
        "result": bite.result.map(|(result, _)| result),
        "heading_deg_true": state.heading_deg_true,
        "speed_water_mps": state.speed_water_mps,
        "wind_at_sensor_mps": state.wind_at_sensor_mps,
        "wind_from_deg_true": state.wind_from_deg_true,
        "kite_line_m": state.kite_line_m,
        "main_line_m": state.main_line_m,
        "kite_elevation_deg": state.kite_elevation_deg,
        "kite_off_astern_deg": state.kite_off_astern_deg,
        "bait": state.bait,
    });
    let place = Place::of_boat(state).map(|place| GeometryValue::new_point(position(place)));
    feature(place, &properties)
}

fn mark(mark: &LoggedMark) -> Feature {
    let last = &mark.last;
    let properties = json!({
        "what": "mark",
        "number": last.number,
        "name": last.name,
        "source": last.source,
        "marked_at": last.marked_at,
        "from": mark.from,
        "to": mark.to,
        "as_of": last.as_of,
        "set_deg_true": last.set_deg_true,
        "drift_mps": last.drift_mps,
        "sigma_m": last.sigma_m,
    });
    feature(point_of(mark), &properties)
}

fn point_of(mark: &LoggedMark) -> Option<GeometryValue> {
    let place = Place {
        latitude_deg: mark.last.latitude_deg?,
        longitude_deg: mark.last.longitude_deg?,
    };
    Some(GeometryValue::new_point(position(place)))
}

/// A pass; its mark is the one of that number that was there when it was offered.
fn pass(pass: &PassRow, marks: &[LoggedMark]) -> Feature {
    let of = marks.iter().find(|mark| {
        mark.last.number == pass.mark
            && mark.from <= pass.offered_at
            && mark.to.is_none_or(|to| to >= pass.offered_at)
    });
    let mut properties = json!(pass);
    properties["what"] = json!("pass");
    feature(of.and_then(point_of), &properties)
}

fn feature(geometry: Option<GeometryValue>, properties: &Value) -> Feature {
    Feature {
        bbox: None,
        geometry: geometry.map(Geometry::new),
        id: None,
        properties: properties.as_object().cloned(),
        foreign_members: None,
    }
}
