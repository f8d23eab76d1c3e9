//! One kite today: does it fly, how high, with how much main line, what loads, in which winds.
//! In: rig with that kite, day. Out: numbers with their bounds.

use serde::Serialize;
use utoipa::ToSchema;

use super::check::{Check, Subject, Unit, Verdict, metres, newtons};
use super::day::Day;
use super::parts::Locker;
use crate::angles::wrap_signed_deg;
use crate::rig::{
    AllowedShares, Kite, LONGEST_MAIN_LINE_M, LOWEST_KITE_RAD, Limit, LoadShare, MainLine, NoTrim,
    Rig, RigParameters, Steady, TRIM_IMMERSION, WindCeiling, greatest_wind_mps, least_wind_mps,
    loads, steady,
};

/// One end of a range of wind and what sets it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WindRange {
    /// Least wind at 10 m in which the rig hangs usably; 0 when the boat's own speed is enough.
    pub least_wind_mps: f64,
    /// What fails below; empty at 0.
    pub below: &'static str,
    /// Greatest wind at 10 m.
    pub greatest_wind_mps: f64,
    /// What fails above; empty when nothing does up to 25 m/s.
    pub above: &'static str,
}

/// One kite today.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KiteToday {
    /// Its name; "flown now" for that of `[rig]`.
    pub name: String,
    /// Good: from lull to gust with all parts whole. Watch: not all the way. Wrong: not in the mean
    /// wind.
    pub verdict: Verdict,
    /// Why it cannot be fished in the mean wind, with a cure; `null` when it can.
    pub cannot: Option<String>,
    /// Elevation in the mean wind.
    pub elevation_deg: Option<f64>,
    /// Elevation in the gust.
    pub gust_elevation_deg: Option<f64>,
    /// Kite off dead astern in the mean wind, to either side.
    pub off_astern_deg: Option<f64>,
    /// Main line that trims the bait in the mean wind.
    pub main_line_m: Option<f64>,
    /// Main line that would trim it in a gust that stayed.
    pub gust_main_line_m: Option<f64>,
    /// Winds in which it keeps its lines up and its parts whole; `null` when there is none.
    pub range: Option<WindRange>,
    /// How far lull and gust keep from the ends of the range: the smaller ratio, 1 at an end.
    pub margin: Option<f64>,
    /// Loads in the gust, and elevation.
    pub checks: Vec<Check>,
}

/// The settled rig with one kite.
#[derive(Debug, Clone)]
pub(super) struct Settled {
    pub mean: Steady,
    /// In the gust; the main line as in the mean wind where nothing trims it.
    pub gust: Option<Steady>,
    /// Why the main line does not trim it there; `None` where it does.
    pub gust_fails: Option<NoTrim>,
}

const TRIM: MainLine = MainLine::Immersion(TRIM_IMMERSION);

/// The rig of the locker with another kite.
pub(super) fn with_kite(locker: &Locker, kite: &Kite) -> RigParameters {
    RigParameters {
        kite: kite.clone(),
        ..locker.flown.clone()
    }
}

/// A rig settled in mean wind and gust.
pub(super) fn settle(parameters: &RigParameters, day: &Day) -> Result<Settled, NoTrim> {
    let rig = Rig::new(parameters).map_err(NoTrim::Refused)?;
    let mean = steady(&rig, &day.conditions(day.wind_mps), TRIM, None)?;
    let in_gust = day.conditions(day.gust_mps);
    let (gust, gust_fails) = match steady(&rig, &in_gust, TRIM, Some(&mean.state)) {
        Ok(gust) => (Some(gust), None),
        Err(why) => {
            let out = MainLine::Out(mean.main_line_m);
            (steady(&rig, &in_gust, out, None).ok(), Some(why))
        }
    };
    Ok(Settled {
        mean,
        gust,
        gust_fails,
    })
}

/// One kite today, and the settled rig it was taken from.
pub(super) fn kite_today(
    locker: &Locker,
    day: &Day,
    name: &str,
    kite: &Kite,
) -> (KiteToday, Option<Settled>) {
    let parameters = with_kite(locker, kite);
    let settled = settle(&parameters, day);
    let range = range(locker, day, &parameters);
    let margin = range.as_ref().map(|range| margin(range, day));
    let mut today = KiteToday {
        name: name.to_owned(),
        verdict: Verdict::Wrong,
        cannot: settled.as_ref().err().map(ToString::to_string),
        elevation_deg: None,
        gust_elevation_deg: None,
        off_astern_deg: None,
        main_line_m: None,
        gust_main_line_m: None,
        range,
        margin,
        checks: Vec::new(),
    };
    let Ok(settled) = settled else {
        return (today, None);
    };
    let sample = &settled.mean.sample;
    let elevation_deg = sample.kite_elevation_rad.to_degrees();
    let off_deg = wrap_signed_deg(sample.kite_azimuth_rad.to_degrees() - 180.0);
    today.elevation_deg = Some(elevation_deg);
    today.off_astern_deg = Some(off_deg.abs());
    today.main_line_m = Some(settled.mean.main_line_m);
    if let Some(gust) = &settled.gust {
        today.gust_elevation_deg = Some(gust.sample.kite_elevation_rad.to_degrees());
        today.gust_main_line_m = settled.gust_fails.is_none().then_some(gust.main_line_m);
    }
    today.checks = load_checks(locker, &parameters, &settled);
    today.checks.push(ELEVATION.check(
        name,
        elevation_deg,
        Some(LOWEST_KITE_RAD.to_degrees()),
        None,
    ));
    today.checks.extend(gust_line(day, &parameters, &settled));
    let whole = today
        .checks
        .iter()
        .all(|check| check.verdict != Verdict::Wrong);
    today.verdict = if whole && margin.is_some_and(|margin| margin >= 1.0) {
        Verdict::Good
    } else {
        Verdict::Watch
    };
    (today, Some(settled))
}

const ELEVATION: Subject = Subject {
    what: "Elevation in the mean wind",
    unit: Unit::Degrees,
    value_from: "rig model, settled in the mean wind",
    bounds_from: "lowest kite that keeps its lines clear (own limit); about 45 degrees is the usual aim (common practice)",
};

const GUST_LINE: Subject = Subject {
    what: "Main line that trims the bait in the gust",
    unit: Unit::Metres,
    value_from: "rig model, settled in the gust",
    bounds_from: "longest main line a crew works with (common practice)",
};

/// The main line in the gust, with the kite line at which it would not be too long.
fn gust_line(day: &Day, parameters: &RigParameters, settled: &Settled) -> Option<Check> {
    const PART: &str = "main line";
    let check = |m| {
        GUST_LINE
            .check(PART, m, None, Some(LONGEST_MAIN_LINE_M))
            .mild()
    };
    match &settled.gust_fails {
        None => Some(check(settled.gust.as_ref()?.main_line_m)),
        Some(NoTrim::TooMuchLine { main_line_m }) => {
            let mut long = check(main_line_m.unwrap_or(f64::MAX));
            long.value = *main_line_m;
            let shorter_m = kite_line_for_gust_m(day, parameters);
            Some(long.or(
                "less kite line, as far as the bait then still trims in the mean wind",
                shorter_m.and_then(metres),
                Vec::new(),
            ))
        }
        Some(_) => None,
    }
}

/// The longest kite line, below the one looked at, with which the gust can be trimmed.
fn kite_line_for_gust_m(day: &Day, parameters: &RigParameters) -> Option<f64> {
    let rig = Rig::new(parameters).ok()?;
    let trims = |kite_line_out_m: f64| {
        let day = Day {
            kite_line_out_m,
            ..*day
        };
        steady(&rig, &day.conditions(day.gust_mps), TRIM, None).is_ok()
    };
    let mut short_m = parameters.kite_line.clip_to_kite_m + SHORTEST_BEYOND_CLIP_M;
    let mut long_m = day.kite_line_out_m;
    if short_m >= long_m || !trims(short_m) {
        return None;
    }
    for _ in 0..KITE_LINE_HALVINGS {
        let middle_m = 0.5 * (short_m + long_m);
        if trims(middle_m) {
            short_m = middle_m;
        } else {
            long_m = middle_m;
        }
    }
    Some(short_m)
}

/// Shortest kite line that is looked at, beyond the clip, m (own choice).
const SHORTEST_BEYOND_CLIP_M: f64 = 15.0;
/// Halvings of its search: 400 m shrink to 0.1 m.
const KITE_LINE_HALVINGS: u32 = 12;

const KITE_LINE: Subject = load("Load on the kite line", OVERLOAD);
const MAIN_LINE: Subject = load("Load on the main line while it fishes", OVERLOAD);
const BAND: Subject = load("Load at the ring: the band must hold until a bite", RELEASE);
const HOLDER: Subject = load("Load on the kite rod's holder", OVERLOAD);
const OVERLOAD: &str = "overload_share of [forecast] times the strength in [rig]";
const RELEASE: &str = "release_share of [forecast] times band_strength_n of [rig]";

const fn load(what: &'static str, bounds_from: &'static str) -> Subject {
    Subject {
        what,
        unit: Unit::Newtons,
        value_from: "rig model, settled in the gust",
        bounds_from,
    }
}

/// Loads in the gust against the shares that are allowed.
pub(super) fn load_checks(
    locker: &Locker,
    parameters: &RigParameters,
    settled: &Settled,
) -> Vec<Check> {
    let Ok(rig) = Rig::new(parameters) else {
        return Vec::new();
    };
    let sample = &settled.gust.as_ref().unwrap_or(&settled.mean).sample;
    let allowed = allowed_shares(locker);
    let [kite_line, main_line, band, holder] = loads(&rig, sample);
    let check = |subject: Subject,
                 part: &str,
                 load: Option<LoadShare>,
                 limit: Limit,
                 cure,
                 instead: &dyn Fn(f64) -> Vec<String>| {
        let share = allowed.of(limit);
        match load {
            None => subject.unknown(part).or(
                "give its strength in the settings: without it there is no warning",
                None,
                Vec::new(),
            ),
            Some(LoadShare {
                load_n,
                share: used,
                ..
            }) => {
                let strength_n = load_n / used;
                let needed_n = load_n / share;
                subject
                    .check(part, load_n, None, Some(share * strength_n))
                    .or(cure, newtons(needed_n), instead(needed_n))
            }
        }
    };
    vec![
        check(
            KITE_LINE,
            "kite line",
            kite_line,
            Limit::KiteLine,
            "a smaller kite, or a kite line of at least this strength",
            &|needed_n| {
                Locker::names(&locker.kite_lines, |line| {
                    line.strength_n.is_some_and(|n| n >= needed_n)
                })
            },
        ),
        check(
            MAIN_LINE,
            "main line",
            main_line,
            Limit::MainLine,
            "a main line of at least this strength",
            &|needed_n| {
                Locker::names(&locker.main_lines, |line| {
                    line.strength_n.is_some_and(|n| n >= needed_n)
                })
            },
        ),
        check(
            BAND,
            "release band",
            band,
            Limit::Band,
            "a band that lets go at this load or above",
            &|needed_n| Locker::names(&locker.bands, |band| *band >= needed_n),
        ),
        check(
            HOLDER,
            "kite rod's holder",
            holder,
            Limit::RodHolder,
            "a smaller kite, or a holder of at least this strength",
            &|_| Vec::new(),
        ),
    ]
}

/// The shares that the settings allow.
#[must_use]
pub fn allowed_shares(locker: &Locker) -> AllowedShares {
    AllowedShares {
        lines: locker.overload_share,
        band: locker.release_share,
    }
}

fn range(locker: &Locker, day: &Day, parameters: &RigParameters) -> Option<WindRange> {
    let rig = Rig::new(parameters).ok()?;
    let (least, below) = least_wind_mps(&rig, &day.conditions(day.wind_mps), TRIM).ok()?;
    // A hair above the end, where the bisection found a usable state.
    let from = day.conditions(least + 1e-3);
    let (greatest, above) = greatest_wind_mps(&rig, &from, TRIM, allowed_shares(locker)).ok()?;
    Some(WindRange {
        least_wind_mps: least,
        below: below.as_ref().map_or("", why),
        greatest_wind_mps: greatest,
        above: match &above {
            WindCeiling::None => "",
            WindCeiling::Trim(no) => why(no),
            WindCeiling::Strength(Limit::KiteLine) => "the kite line passes its share",
            WindCeiling::Strength(Limit::MainLine) => "the main line passes its share",
            WindCeiling::Strength(Limit::Band) => "the release band passes its share",
            WindCeiling::Strength(Limit::RodHolder) => "the rod holder passes its share",
        },
    })
}

/// What fails, in few words.
fn why(no: &NoTrim) -> &'static str {
    match no {
        NoTrim::TooLittleWind { .. } => "the kite does not carry itself, lines and bait",
        NoTrim::KiteLow { .. } => "the kite stands too low to keep its lines clear",
        NoTrim::TooMuchLine { .. } => "the wind on the hanging line asks for too much main line",
        NoTrim::BaitAhead { .. } => "the bait hangs ahead of the rod tip",
        NoTrim::LineInWater => "line lies in the water",
        NoTrim::NotConverged { .. } => "the model finds no balance",
        NoTrim::Refused(_) => "a number is out of what the model takes",
    }
}

/// The smaller ratio of lull over least wind and greatest wind over gust.
fn margin(range: &WindRange, day: &Day) -> f64 {
    // The boat's own speed alone keeps it up: no lull is too deep.
    let low = if range.least_wind_mps > 0.0 {
        day.lull_mps() / range.least_wind_mps
    } else {
        f64::INFINITY
    };
    let high = range.greatest_wind_mps / day.gust_mps;
    low.min(high)
}
