//! Plots of a report, as SVG.

use std::error::Error;
use std::ops::Range;

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::{
    Cartesian2d, ChartBuilder, ChartContext, Color as _, Cross, DrawingArea, IntoDrawingArea as _,
    IntoFont as _, LineSeries, PathElement, RGBColor, Rectangle, SVGBackend, ShapeStyle, Text,
    TriangleMarker,
};

use super::super::rig::Units;
use super::writing::Clock;
use crate::angles::wrap_signed_deg;
use crate::decode::BaitState;
use crate::logbook::{DayFigures, DayRows, Doing, Place, State, Timeline, TrackPoint};
use crate::time::Millis;

type Made<T> = Result<T, Box<dyn Error>>;
type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

const WIDTH: u32 = 720;
const INK: RGBColor = RGBColor(27, 42, 51);
const GREY: RGBColor = RGBColor(120, 135, 143);
const FAINT: RGBColor = RGBColor(214, 221, 225);
const SKIPPING: RGBColor = RGBColor(11, 122, 97);
const AIRBORNE: RGBColor = RGBColor(201, 106, 18);
const DRAGGING: RGBColor = RGBColor(74, 74, 168);
const BITE: RGBColor = RGBColor(190, 20, 40);
const FONT: &str = "sans-serif";
const LETTER: i32 = 14;

/// A line is cut where so much time is missing.
const GAP_S: f64 = 60.0;
const NAUTICAL_MILE_M: f64 = 1852.0;
/// One degree of latitude on the sphere of `logbook::Place`, m.
const DEGREE_M: f64 = 111_195.08;

/// Draws with a backend and gives the SVG.
fn drawn(height: u32, draw: impl FnOnce(&Area<'_>) -> Made<()>) -> Made<String> {
    let mut svg = String::new();
    {
        let area = SVGBackend::with_string(&mut svg, (WIDTH, height)).into_drawing_area();
        draw(&area)?;
        area.present()?;
    }
    Ok(svg)
}

/// The day's hours, at least five minutes of them.
fn hours(figures: &DayFigures, clock: Clock) -> Option<(Range<f64>, Millis)> {
    let (from, to) = (figures.from?, figures.to?);
    let midnight = clock.midnight(from);
    let (from, to) = (clock.hours(from, midnight), clock.hours(to, midnight));
    Some((from..to.max(from + 5.0 / 60.0), midnight))
}

/// "09:05"; labels less than a minute apart need seconds.
fn hour_label(hour: f64, over: &Range<f64>) -> String {
    let s = (hour * 3600.0).round() as i64;
    let (h, min, s) = (s / 3600 % 24, s / 60 % 60, s % 60);
    if over.end - over.start < 0.2 {
        format!("{h:02}:{min:02}:{s:02}")
    } else {
        format!("{h:02}:{min:02}")
    }
}

/// Lanes of the day, from above.
const LANES: [&str; 5] = [
    "bait, by the model",
    "bait, by the crew",
    "advisories",
    "turns told",
    "lines moved",
];

/// The day as lanes over time; `None` where nothing is known.
pub(super) fn day(figures: &DayFigures, timeline: &Timeline, clock: Clock) -> Made<Option<String>> {
    let Some((over, midnight)) = hours(figures, clock) else {
        return Ok(None);
    };
    let hour = |at: Millis| clock.hours(at, midnight);
    let svg = drawn(250, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(6)
            .margin_right(24)
            .x_label_area_size(26)
            .y_label_area_size(132)
            .build_cartesian_2d(over.clone(), 0.0..LANES.len() as f64)?;
        time_axis(&mut chart, &over)?;
        for (lane, name) in LANES.iter().enumerate() {
            let middle = lane_y(lane, 0.5);
            label(area, &chart, (over.start, middle), (-128, -8), name)?;
            let line = [
                (over.start, lane_y(lane, 0.0)),
                (over.end, lane_y(lane, 0.0)),
            ];
            chart.draw_series([PathElement::new(line, FAINT)])?;
        }
        for stretch in &timeline.stretches {
            let time = hour(stretch.from)..hour(stretch.to);
            match (stretch.doing, stretch.bait) {
                (Doing::Fishing, Some(bait)) => did(&mut chart, 0, time, bait)?,
                _ => bar(&mut chart, 0, time, 0.45..0.55, FAINT)?,
            }
        }
        for (i, tap) in timeline.taps.iter().enumerate() {
            let next = timeline.taps.get(i + 1).map(|next| hour(next.at));
            // As long as it holds in the figures at most.
            let until = (hour(tap.at) + 1.0 / 6.0)
                .min(next.unwrap_or(over.end))
                .min(over.end);
            did(&mut chart, 1, hour(tap.at)..until, tap.bait)?;
        }
        for advisory in &timeline.advisories {
            let end = advisory.ended_at.map_or(over.end, hour);
            bar(&mut chart, 2, hour(advisory.raised_at)..end, 0.3..0.7, GREY)?;
        }
        for turn in &timeline.turns {
            let (at, up) = (
                hour(turn.starts_at),
                if turn.by_deg < 0.0 { 0.8 } else { 0.2 },
            );
            let line = [(at, lane_y(3, 0.5)), (at, lane_y(3, up))];
            chart.draw_series([PathElement::new(line, INK.stroke_width(2))])?;
        }
        for moved in &timeline.moves {
            let (at, up) = (hour(moved.at), if moved.by_m < 0.0 { 0.2 } else { 0.8 });
            let line = [(at, lane_y(4, 0.5)), (at, lane_y(4, up))];
            chart.draw_series([PathElement::new(line, INK.stroke_width(2))])?;
        }
        let bites = figures
            .bites
            .iter()
            .map(|bite| (hour(bite.at), lane_y(0, 0.5)));
        chart.draw_series(bites.map(|at| TriangleMarker::new(at, 7, BITE.filled())))?;
        Ok(())
    })?;
    Ok(Some(svg))
}

/// Height in a lane, 0 below to 1 above.
fn lane_y(lane: usize, up: f64) -> f64 {
    (LANES.len() - 1 - lane) as f64 + up
}

fn did(chart: &mut Chart<'_, '_>, lane: usize, time: Range<f64>, bait: BaitState) -> Made<()> {
    let (up, color) = match bait {
        BaitState::Airborne => (0.64..0.92, AIRBORNE),
        BaitState::Skipping => (0.36..0.64, SKIPPING),
        BaitState::Dragging => (0.08..0.36, DRAGGING),
    };
    bar(chart, lane, time, up, color)
}

fn bar(
    chart: &mut Chart<'_, '_>,
    lane: usize,
    time: Range<f64>,
    up: Range<f64>,
    color: RGBColor,
) -> Made<()> {
    let corners = [
        (time.start, lane_y(lane, up.start)),
        (time.end, lane_y(lane, up.end)),
    ];
    chart.draw_series([Rectangle::new(corners, color.filled())])?;
    Ok(())
}

fn time_axis(chart: &mut Chart<'_, '_>, over: &Range<f64>) -> Made<()> {
    let label = |hour: &f64| hour_label(*hour, over);
    chart
        .configure_mesh()
        .disable_y_mesh()
        .disable_y_axis()
        .light_line_style(RGBColor(255, 255, 255))
        .bold_line_style(FAINT)
        .axis_style(GREY)
        .x_labels(8)
        .x_label_formatter(&label)
        .y_labels(0)
        .label_style((FONT, LETTER).into_font().color(&INK))
        .draw()?;
    Ok(())
}

/// Words beside a point of the chart, so many pixels from it.
fn label(
    area: &Area<'_>,
    chart: &Chart<'_, '_>,
    at: (f64, f64),
    by: (i32, i32),
    words: &str,
) -> Made<()> {
    let (x, y) = chart.plotting_area().map_coordinate(&at);
    let (left, top) = area.get_base_pixel();
    let place = (x - left + by.0, y - top + by.1);
    let style = (FONT, LETTER).into_font().color(&INK);
    area.draw(&Text::new(words.to_owned(), place, style))?;
    Ok(())
}

/// Metres east and north of the first place of a day.
struct Plane {
    origin: Place,
}

impl Plane {
    fn metres(&self, latitude_deg: f64, longitude_deg: f64) -> (f64, f64) {
        let east_deg = wrap_signed_deg(longitude_deg - self.origin.longitude_deg);
        let parallel = self.origin.latitude_deg.to_radians().cos();
        (
            east_deg * DEGREE_M * parallel,
            (latitude_deg - self.origin.latitude_deg) * DEGREE_M,
        )
    }
}

/// Where boat and bait went; `None` without positions.
pub(super) fn track(
    timeline: &Timeline,
    figures: &DayFigures,
    units: Units,
) -> Made<Option<String>> {
    let Some(first) = timeline.track.first() else {
        return Ok(None);
    };
    let plane = Plane {
        origin: Place {
            latitude_deg: first.latitude_deg,
            longitude_deg: first.longitude_deg,
        },
    };
    let boat = lines(&timeline.track, |point| {
        Some(plane.metres(point.latitude_deg, point.longitude_deg))
    });
    let bait = lines(&timeline.track, |point| {
        let (latitude, longitude) = point.bait_latitude_deg.zip(point.bait_longitude_deg)?;
        Some(plane.metres(latitude, longitude))
    });
    let marks: Vec<(String, (f64, f64))> = timeline
        .marks
        .iter()
        .filter_map(|mark| {
            let last = &mark.last;
            let place = plane.metres(last.latitude_deg?, last.longitude_deg?);
            let number = || last.number.to_string();
            Some((last.name.clone().unwrap_or_else(number), place))
        })
        .collect();
    let bites: Vec<(String, (f64, f64))> = (1..)
        .zip(&figures.bites)
        .filter_map(|(number, bite): (u32, _)| {
            let place = plane.metres(bite.latitude_deg?, bite.longitude_deg?);
            Some((number.to_string(), place))
        })
        .collect();
    let all = boat.iter().chain(&bait).flatten().copied();
    let Some((x, y)) = frame(all.chain(bites.iter().map(|(_, place)| *place))) else {
        return Ok(None);
    };
    let (size, unit) = if x.end - x.start > 2.0 * NAUTICAL_MILE_M {
        (NAUTICAL_MILE_M, "nautical miles")
    } else {
        units.length()
    };
    let inside = |place: &(f64, f64)| x.contains(&place.0) && y.contains(&place.1);
    let svg = drawn(TRACK_HEIGHT, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(6)
            .x_label_area_size(40)
            .y_label_area_size(64)
            .build_cartesian_2d(x.clone(), y.clone())?;
        let written = |m: &f64| {
            let number = m / size;
            if size == NAUTICAL_MILE_M {
                format!("{number:.1}")
            } else {
                format!("{number:.0}")
            }
        };
        chart
            .configure_mesh()
            .light_line_style(RGBColor(255, 255, 255))
            .bold_line_style(FAINT)
            .axis_style(GREY)
            .x_labels(8)
            .y_labels(8)
            .x_label_formatter(&written)
            .y_label_formatter(&written)
            .x_desc(format!("east of the first position, {unit}"))
            .y_desc(format!("north, {unit}"))
            .label_style((FONT, LETTER).into_font().color(&INK))
            .draw()?;
        draw_lines(&mut chart, boat, GREY.stroke_width(1))?;
        draw_lines(&mut chart, bait, SKIPPING.stroke_width(1))?;
        for (name, place) in marks.iter().filter(|(_, place)| inside(place)) {
            chart.draw_series([Cross::new(*place, 5, INK.stroke_width(2))])?;
            label(area, &chart, *place, (8, -7), name)?;
        }
        for (number, place) in &bites {
            chart.draw_series([TriangleMarker::new(*place, 7, BITE.filled())])?;
            label(area, &chart, *place, (8, -7), number)?;
        }
        Ok(())
    })?;
    Ok(Some(svg))
}

const TRACK_HEIGHT: u32 = 520;

/// What all points fit into, as wide as high in metres for a pixel.
fn frame(points: impl Iterator<Item = (f64, f64)>) -> Option<(Range<f64>, Range<f64>)> {
    let mut edges: Option<(f64, f64, f64, f64)> = None;
    for (x, y) in points {
        let (west, east, south, north) = edges.unwrap_or((x, x, y, y));
        edges = Some((west.min(x), east.max(x), south.min(y), north.max(y)));
    }
    let (west, east, south, north) = edges?;
    // What is left of the picture beside labels and margins.
    let (wide, high) = (f64::from(WIDTH) - 76.0, f64::from(TRACK_HEIGHT) - 52.0);
    let m_per_pixel = (1.1 * (east - west) / wide)
        .max(1.1 * (north - south) / high)
        .max(100.0 / wide);
    let around = |least: f64, most: f64, pixels: f64| {
        let (middle, half) = (0.5 * (least + most), 0.5 * m_per_pixel * pixels);
        middle - half..middle + half
    };
    Some((around(west, east, wide), around(south, north, high)))
}

/// The points of a track as lines, cut where time or place is missing.
fn lines(
    track: &[TrackPoint],
    place: impl Fn(&TrackPoint) -> Option<(f64, f64)>,
) -> Vec<Vec<(f64, f64)>> {
    let mut lines: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut last: Option<Millis> = None;
    for point in track {
        let Some(here) = place(point) else {
            last = None;
            continue;
        };
        match (last, lines.last_mut()) {
            (Some(before), Some(line)) if point.at.seconds_since(before) <= GAP_S => {
                line.push(here);
            }
            _ => lines.push(vec![here]),
        }
        last = Some(point.at);
    }
    lines
}

fn draw_lines(
    chart: &mut Chart<'_, '_>,
    lines: Vec<Vec<(f64, f64)>>,
    style: ShapeStyle,
) -> Made<()> {
    for line in lines {
        chart.draw_series(LineSeries::new(line, style))?;
    }
    Ok(())
}

/// Wind and boat's speed over the day; `None` where neither is known.
pub(super) fn wind_and_speed(day: &DayRows, units: Units, clock: Clock) -> Made<Option<String>> {
    let states = || day.sessions.iter().flat_map(|session| &session.states);
    let (Some(first), Some(last)) = (states().next(), states().last()) else {
        return Ok(None);
    };
    let midnight = clock.midnight(first.at);
    let (size, unit) = units.speed();
    let read = |value: fn(&State) -> Option<f64>| {
        let mut lines: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut before: Option<Millis> = None;
        for state in states() {
            let Some(speed_mps) = value(state) else {
                before = None;
                continue;
            };
            let point = (clock.hours(state.at, midnight), speed_mps / size);
            match (before, lines.last_mut()) {
                (Some(then), Some(line)) if state.at.seconds_since(then) <= GAP_S => {
                    line.push(point);
                }
                _ => lines.push(vec![point]),
            }
            before = Some(state.at);
        }
        lines
    };
    let wind = read(|state| state.wind_at_sensor_mps);
    let speed = read(|state| state.speed_water_mps);
    let most = wind.iter().chain(&speed).flatten().map(|(_, speed)| *speed);
    let Some(most) = most.reduce(f64::max) else {
        return Ok(None);
    };
    let from = clock.hours(first.at, midnight);
    let over = from..clock.hours(last.at, midnight).max(from + 5.0 / 60.0);
    let svg = drawn(220, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(6)
            .margin_right(24)
            .x_label_area_size(26)
            .y_label_area_size(64)
            .build_cartesian_2d(over.clone(), 0.0..(1.15 * most).max(1.0))?;
        let label = |hour: &f64| hour_label(*hour, &over);
        chart
            .configure_mesh()
            .disable_x_mesh()
            .light_line_style(RGBColor(255, 255, 255))
            .bold_line_style(FAINT)
            .axis_style(GREY)
            .x_labels(8)
            .y_labels(5)
            .x_label_formatter(&label)
            .y_label_formatter(&|speed| format!("{speed:.0}"))
            .y_desc(unit)
            .label_style((FONT, LETTER).into_font().color(&INK))
            .draw()?;
        draw_lines(&mut chart, wind, INK.stroke_width(1))?;
        draw_lines(&mut chart, speed, SKIPPING.stroke_width(2))?;
        Ok(())
    })?;
    Ok(Some(svg))
}
