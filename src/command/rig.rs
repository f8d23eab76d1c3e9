//! `skimwatch rig`: which kite and tackle suit the day, in the units of the settings.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;

use super::Failure;
use crate::launch::{Launch, launch};
use crate::locker::{
    Check, Day, DayOrigin, GUST_MPS, KITE_LINE_OUT_M, KiteToday, Known, NEWTONS_PER_LBF,
    OFF_BOW_DEG, Origin, RigToday, SPEED_MPS, Swap, Unit, Verdict, WIND_MPS, rig_today,
};
use crate::settings::{self, CrewUnits, LengthUnit, Settings, SpeedUnit, WeightUnit};
use crate::units::KNOT_MPS;

/// Options of `rig`.
#[derive(Debug, Args)]
pub(super) struct RigArguments {
    /// Settings file.
    #[arg(long, value_name = "FILE", default_value = "skimwatch.toml")]
    settings: PathBuf,
    /// Print the steps of a launch of the rig that flies instead.
    #[arg(long)]
    launch: bool,
    #[command(flatten)]
    day: DayArguments,
}

/// The day, in the units of `[crew]`; typical numbers stand in for what is not given.
#[derive(Debug, Args)]
pub(super) struct DayArguments {
    /// Mean true wind at 10 m, in the speed unit of the settings.
    #[arg(long, value_name = "SPEED")]
    wind: Option<f64>,
    /// Gusts at 10 m.
    #[arg(long, value_name = "SPEED")]
    gust: Option<f64>,
    /// Trolling speed through the water.
    #[arg(long, value_name = "SPEED")]
    speed: Option<f64>,
    /// True wind off the bow, degrees: 0 ahead, 180 astern.
    #[arg(long, value_name = "DEG")]
    off_bow: Option<f64>,
    /// Kite line out, in the length unit of the settings.
    #[arg(long, value_name = "LENGTH")]
    kite_line: Option<f64>,
}

pub(super) fn rig(arguments: &RigArguments) -> Result<(), Failure> {
    let settings = settings::load(&arguments.settings).map_err(Failure::settings)?;
    if !arguments.launch {
        return super::print_line(&report(&settings, &arguments.day)?);
    }
    let (day, _) = looked_at(&settings, &arguments.day)?;
    let launch = launch(&settings.locker, &day).map_err(Failure::data)?;
    super::print_line(&steps(&launch, Units(settings.units)))
}

/// Today's rig in words.
pub(super) fn report(settings: &Settings, day: &DayArguments) -> Result<String, Failure> {
    let (day, origin) = looked_at(settings, day)?;
    let today = rig_today(&settings.locker, &day, origin);
    Ok(written(&today, Units(settings.units)))
}

/// The day of the options.
fn looked_at(settings: &Settings, day: &DayArguments) -> Result<(Day, DayOrigin), Failure> {
    let units = Units(settings.units);
    let asked = Known {
        wind_mps: within("wind", day.wind, units.speed(), WIND_MPS)?,
        gust_mps: within("gust", day.gust, units.speed(), GUST_MPS)?,
        speed_mps: within("speed", day.speed, units.speed(), SPEED_MPS)?,
        off_bow_deg: within("off-bow", day.off_bow, (1.0, "degrees"), OFF_BOW_DEG)?,
        kite_line_out_m: within("kite-line", day.kite_line, units.length(), KITE_LINE_OUT_M)?,
    };
    if let (Some(wind), Some(gust)) = (asked.wind_mps, asked.gust_mps)
        && gust < wind
    {
        return Err(Failure::data(
            "--gust is below --wind; it must be that or above",
        ));
    }
    Ok(Day::of(&asked, &Known::default(), &settings.locker))
}

/// An option in SI, if it is within its range.
fn within(
    option: &str,
    given: Option<f64>,
    (size, unit): (f64, &str),
    [least, most]: [f64; 2],
) -> Result<Option<f64>, Failure> {
    let Some(given) = given else {
        return Ok(None);
    };
    let value = given * size;
    if (least..=most).contains(&value) {
        return Ok(Some(value));
    }
    Err(Failure::data(format!(
        "--{option} is {given}, allowed is {:.1} to {:.1} {unit}",
        least / size,
        most / size
    )))
}

/// Numbers in the units of the crew.
#[derive(Debug, Clone, Copy)]
pub(super) struct Units(pub CrewUnits);

impl Units {
    /// Size of the unit of speeds, and its name.
    pub(super) fn speed(self) -> (f64, &'static str) {
        match self.0.speed {
            SpeedUnit::Knots => (KNOT_MPS, "kn"),
            SpeedUnit::MetresPerSecond => (1.0, "m/s"),
        }
    }

    /// Size of the unit of lengths, and its name.
    pub(super) fn length(self) -> (f64, &'static str) {
        match self.0.length {
            LengthUnit::Metres => (1.0, "m"),
            LengthUnit::Feet => (0.3048, "ft"),
        }
    }

    /// Size of the unit of a number, and its name.
    fn of(self, unit: Unit) -> (f64, &'static str) {
        const POUND_KG: f64 = 0.453_592_37;
        match (unit, self.0.weight) {
            (Unit::Metres, _) => self.length(),
            (Unit::Millimetres, _) => (1.0, "mm"),
            (Unit::Degrees, _) => (1.0, "degrees"),
            (Unit::Share, _) => (0.01, "%"),
            (Unit::Kilograms, WeightUnit::Kilograms) => (1.0, "kg"),
            (Unit::Kilograms, WeightUnit::Pounds) => (POUND_KG, "lb"),
            (Unit::Newtons, WeightUnit::Kilograms) => (NEWTONS_PER_LBF / POUND_KG, "kg"),
            (Unit::Newtons, WeightUnit::Pounds) => (NEWTONS_PER_LBF, "lb"),
        }
    }

    /// A value with its unit.
    pub(super) fn write(value: f64, (size, unit): (f64, &str)) -> String {
        let number = value / size;
        let digits = match number.abs() {
            0.0 => 0,
            0.0..1.0 => 3,
            1.0..100.0 => 1,
            _ => 0,
        };
        format!("{number:.digits$} {unit}")
    }
}

/// The report as lines of text.
fn written(today: &RigToday, units: Units) -> String {
    let mut text = String::new();
    let day = &today.day;
    let speed = |mps: f64| Units::write(mps, units.speed());
    let length = |m: f64| Units::write(m, units.length());
    let assumed = |origin: Origin| {
        if origin == Origin::Assumed {
            " (assumed)"
        } else {
            ""
        }
    };
    let _ = writeln!(
        text,
        "today's rig: wind {}{}, gusts {}{}, lulls {} (as far below the mean), at 10 m; boat {}{}; \
         wind {:.0} degrees off the bow{}; kite line {}{}",
        speed(day.wind_mps),
        assumed(today.origin.wind),
        speed(day.gust_mps),
        assumed(today.origin.gust),
        speed(today.lull_mps),
        speed(day.speed_mps),
        assumed(today.origin.speed),
        day.off_bow_deg,
        assumed(today.origin.off_bow),
        length(day.kite_line_out_m),
        assumed(today.origin.kite_line_out),
    );
    for kite in &today.kites {
        write_kite(&mut text, kite, units);
    }
    let _ = match &today.best {
        Some(best) => writeln!(text, "best: {best}: {}", today.why),
        None => writeln!(text, "best: none: {}", today.why),
    };
    let _ = writeln!(text, "tackle:");
    write_checks(&mut text, &today.tackle, units);
    for swap in &today.swaps {
        write_swap(&mut text, swap, units);
    }
    let _ = write!(
        text,
        "advice only: the model knows no wear, no jerks of the sea and no squall; the skipper decides"
    );
    text
}

fn write_kite(text: &mut String, kite: &KiteToday, units: Units) {
    let speed = |mps: f64| Units::write(mps, units.speed());
    let length = |m: Option<f64>| {
        m.map_or_else(
            || "no length".to_owned(),
            |m| Units::write(m, units.length()),
        )
    };
    let _ = write!(text, "kite {}: ", kite.name);
    match (&kite.cannot, kite.elevation_deg) {
        (None, Some(elevation)) => {
            let _ = writeln!(
                text,
                "{}; {elevation:.0} degrees up, {:.0} off dead astern; main line {}, in the gust {}",
                verdict(kite.verdict),
                kite.off_astern_deg.unwrap_or_default(),
                length(kite.main_line_m),
                length(kite.gust_main_line_m),
            );
        }
        (cannot, _) => {
            let _ = writeln!(text, "NO: {}", cannot.as_deref().unwrap_or_default());
        }
    }
    match &kite.range {
        Some(range) => {
            let _ = writeln!(
                text,
                "  winds from {} ({}) to {} ({})",
                speed(range.least_wind_mps),
                or(range.below, "the boat's speed alone keeps it up"),
                speed(range.greatest_wind_mps),
                or(range.above, "nothing fails up to there"),
            );
        }
        None => {
            let _ = writeln!(text, "  no wind in which it can be fished on this course");
        }
    }
    write_checks(text, &kite.checks, units);
}

fn or<'t>(text: &'t str, otherwise: &'t str) -> &'t str {
    if text.is_empty() { otherwise } else { text }
}

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Good => "good",
        Verdict::Unknown => "not known",
        Verdict::Watch => "WATCH",
        Verdict::Wrong => "WRONG",
    }
}

/// Checks that were made, then in one line those that could not be.
fn write_checks(text: &mut String, checks: &[Check], units: Units) {
    let is_unknown = |check: &&Check| check.verdict == Verdict::Unknown;
    for check in checks.iter().filter(|check| !is_unknown(check)) {
        write_check(text, check, units);
    }
    let unknown: Vec<_> = checks
        .iter()
        .filter(is_unknown)
        .map(|check| match &check.change {
            Some(change) => format!("{} ({})", check.what, change.what),
            None => check.what.to_owned(),
        })
        .collect();
    if !unknown.is_empty() {
        let _ = writeln!(text, "  not checked: {}", unknown.join("; "));
    }
}

fn write_check(text: &mut String, check: &Check, units: Units) {
    let unit = units.of(check.unit);
    let number = |value: f64| Units::write(value, unit);
    let value = check.value.map_or_else(|| "not known".to_owned(), number);
    let bounds = match (check.least, check.most) {
        (Some(least), Some(most)) => format!(", {} to {}", number(least), number(most)),
        (Some(least), None) => format!(", at least {}", number(least)),
        (None, Some(most)) => format!(", at most {}", number(most)),
        (None, None) => String::new(),
    };
    let _ = writeln!(
        text,
        "  {}: {} ({}): {value}{bounds} [{}; bound: {}]",
        verdict(check.verdict),
        check.what,
        check.part,
        check.value_from,
        check.bounds_from,
    );
    if let Some(change) = &check.change {
        let to = change.to.map_or_else(String::new, |to| {
            format!(": {}", Units::write(to.value, units.of(to.unit)))
        });
        let instead = if change.instead.is_empty() {
            String::new()
        } else {
            format!("; in the locker: {}", change.instead.join(", "))
        };
        let _ = writeln!(text, "    change: {}{to}{instead}", change.what);
    }
}

fn write_swap(text: &mut String, swap: &Swap, units: Units) {
    let _ = match (&swap.cannot, swap.elevation_deg, swap.main_line_m) {
        (None, Some(elevation), Some(m)) => writeln!(
            text,
            "with {} {}: {}; {elevation:.0} degrees up, main line {}",
            swap.place,
            swap.name,
            verdict(swap.verdict),
            Units::write(m, units.length()),
        ),
        (cannot, ..) => writeln!(
            text,
            "with {} {}: NO: {}",
            swap.place,
            swap.name,
            cannot.as_deref().unwrap_or_default()
        ),
    };
}

/// The steps of a launch as lines of text.
fn steps(launch: &Launch, units: Units) -> String {
    let mut text = String::new();
    let length = |m: f64| Units::write(m, units.length());
    for (index, step) in launch.steps.iter().enumerate() {
        let _ = writeln!(text, "{}. {}. {}", index + 1, step.title, step.what);
        if let Some(m) = step.length_m {
            let _ = writeln!(text, "   length: {}", length(m));
        }
        if let Some(lines) = &step.lines {
            if lines.kite_by_m > 0.0 || lines.main_by_m > 0.0 {
                let _ = writeln!(
                    text,
                    "   LET OUT {} of kite line (to {}) and {} of main line (to {}) in {:.0} s",
                    length(lines.kite_by_m),
                    length(lines.kite_line_out_m),
                    length(lines.main_by_m),
                    length(lines.main_line_out_m),
                    lines.over_s,
                );
            }
            let _ = writeln!(
                text,
                "   if the bait flies: LET OUT {0} of main line; if it drags: WIND IN {0}",
                length(lines.nudge_m),
            );
        }
        if let Some(expected) = &step.expected {
            let _ = writeln!(
                text,
                "   expect: kite {:.0} degrees up, bait {} astern, at most {} high",
                expected.elevation_deg,
                length(expected.bait_astern_m),
                length(expected.bait_height_m.max(0.0)),
            );
        }
    }
    let _ = write!(text, "about {:.0} min in the model", launch.takes_s / 60.0);
    text
}
