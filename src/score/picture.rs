//! The reliability table as a picture.
//! In: a [`Report`]. Out: SVG text. One panel a trouble: chance given against frequency observed.

use std::fmt::Write as _;

use super::report::{Chances, Report};

/// Side of the square in which dots lie.
const SIDE: f64 = 260.0;
/// Height of the strip of counts below it.
const STRIP: f64 = 44.0;
/// Room to the left of each square, and between panels.
const LEFT: f64 = 62.0;
const RIGHT: f64 = 22.0;
const TOP: f64 = 74.0;
const BOTTOM: f64 = 92.0;

const INK: &str = "#1b2a33";
const FAINT: &str = "#c9d3d8";
const BAND: &str = "#e4f0ea";
const DOT: &str = "#0b5d57";

/// Draws the shortened set of every trouble. Filled dots hold 30 samples or more, hollow ones
/// fewer; the band is 10 points to either side of the diagonal; bars below count the samples.
#[must_use]
pub fn reliability_svg(report: &Report) -> String {
    let panels = report.chances.len().max(1) as f64;
    let width = panels * (LEFT + SIDE + RIGHT);
    let height = TOP + SIDE + STRIP + BOTTOM;
    let mut svg = String::new();
    // Writing to a string cannot fail.
    let _ = draw(&mut svg, report, width, height);
    svg
}

fn draw(out: &mut String, report: &Report, width: f64, height: f64) -> std::fmt::Result {
    writeln!(
        out,
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0}" height="{height:.0}" viewBox="0 0 {width:.0} {height:.0}" font-family="sans-serif" font-size="12" fill="{INK}">"#
    )?;
    writeln!(
        out,
        "<title>Chance given against frequency observed</title>"
    )?;
    writeln!(
        out,
        r##"<rect width="{width:.0}" height="{height:.0}" fill="#ffffff"/>"##
    )?;
    text(
        out,
        LEFT,
        24.0,
        "start",
        16,
        "Do the chances mean what they say?",
    )?;
    if report.chances.is_empty() {
        text(out, LEFT, TOP, "start", 12, "No samples.")?;
    }
    for (index, chances) in (0_u32..).zip(&report.chances) {
        let left = LEFT + f64::from(index) * (LEFT + SIDE + RIGHT);
        panel(out, chances, left)?;
    }
    text(
        out,
        LEFT,
        height - 12.0,
        "start",
        11,
        "Filled: 30 samples or more. Hollow: fewer. Shaded: within 10 points.",
    )?;
    writeln!(out, "</svg>")
}

fn panel(out: &mut String, chances: &Chances, left: f64) -> std::fmt::Result {
    let set = &chances.shortened;
    let x = |share: f64| left + SIDE * share;
    let y = |share: f64| TOP + SIDE * (1.0 - share);
    let skill = set
        .skill
        .map_or("no skill to tell".to_owned(), |s| format!("skill {s:.2}"));
    text(
        out,
        left,
        TOP - 12.0,
        "start",
        13,
        &format!("{}: {skill}, events: {}", chances.trouble, chances.events),
    )?;
    // Within 10 points of the diagonal, cut at the edges of the square.
    let corners = [
        (0.0, 0.0),
        (0.0, 0.1),
        (0.9, 1.0),
        (1.0, 1.0),
        (1.0, 0.9),
        (0.1, 0.0),
    ];
    let corners: Vec<String> = corners
        .iter()
        .map(|(cx, cy)| format!("{:.1},{:.1}", x(*cx), y(*cy)))
        .collect();
    writeln!(
        out,
        r#"<polygon points="{}" fill="{BAND}"/>"#,
        corners.join(" ")
    )?;
    for tenths in 0_u32..=10 {
        let share = f64::from(tenths) / 10.0;
        line(out, (x(share), y(0.0)), (x(share), y(1.0)), FAINT, 0.5)?;
        line(out, (x(0.0), y(share)), (x(1.0), y(share)), FAINT, 0.5)?;
        if tenths % 2 == 0 {
            let label = format!("{}", tenths * 10);
            text(out, x(share), y(0.0) + STRIP + 18.0, "middle", 11, &label)?;
            text(out, x(0.0) - 6.0, y(share) + 4.0, "end", 11, &label)?;
        }
    }
    line(out, (x(0.0), y(0.0)), (x(1.0), y(1.0)), INK, 1.0)?;
    writeln!(
        out,
        r#"<rect x="{left:.1}" y="{TOP:.1}" width="{SIDE:.1}" height="{SIDE:.1}" fill="none" stroke="{INK}"/>"#
    )?;
    let most = set.bins.iter().map(|bin| bin.samples).max().unwrap_or(1);
    for bin in &set.bins {
        let bar = (STRIP - 8.0) * bin.samples as f64 / most as f64;
        writeln!(
            out,
            r#"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="{bar:.1}" fill="{FAINT}"><title>{} samples</title></rect>"#,
            x(f64::from(bin.from_percent) / 100.0) + 2.0,
            y(0.0) + 4.0,
            SIDE / 10.0 - 4.0,
            bin.samples,
        )?;
        let fill = if bin.thin { "#ffffff" } else { DOT };
        writeln!(
            out,
            r#"<circle cx="{:.1}" cy="{:.1}" r="5" fill="{fill}" stroke="{DOT}" stroke-width="1.5"><title>given {:.0} %, observed {:.0} % of {} samples</title></circle>"#,
            x(bin.mean_chance),
            y(bin.observed),
            100.0 * bin.mean_chance,
            100.0 * bin.observed,
            bin.samples,
        )?;
    }
    let middle = x(0.5);
    text(
        out,
        middle,
        y(0.0) + STRIP + 36.0,
        "middle",
        12,
        &format!("chance given, % (bars: samples, tallest {most})"),
    )?;
    let (label_x, label_y) = (left - 40.0, y(0.5));
    writeln!(
        out,
        r#"<text x="{label_x:.1}" y="{label_y:.1}" text-anchor="middle" transform="rotate(-90 {label_x:.1} {label_y:.1})">observed, %</text>"#
    )
}

fn text(
    out: &mut String,
    x: f64,
    y: f64,
    anchor: &str,
    size: u32,
    words: &str,
) -> std::fmt::Result {
    let words = words
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;");
    writeln!(
        out,
        r#"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}" font-size="{size}">{words}</text>"#
    )
}

fn line(
    out: &mut String,
    from: (f64, f64),
    to: (f64, f64),
    ink: &str,
    thick: f64,
) -> std::fmt::Result {
    writeln!(
        out,
        r#"<line x1="{:.1}" y1="{:.1}" x2="{:.1}" y2="{:.1}" stroke="{ink}" stroke-width="{thick}"/>"#,
        from.0, from.1, to.0, to.1
    )
}
