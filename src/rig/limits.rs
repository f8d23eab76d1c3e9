//! Limits and inverse problems of the settled rig: loads against strengths, kite line for a wanted
//! elevation, least wind to fly, greatest wind before something breaks.
//! In: rig and conditions. Out: a number and what determines it. Knows no time.

use super::conditions::Conditions;
use super::parameters::Rig;
use super::sample::Sample;
use super::steady::steady;
use super::trim::{MainLine, NoTrim, Steady};

/// What may give way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// The kite line breaks.
    KiteLine,
    /// The main line breaks.
    MainLine,
    /// The band between main line and clip lets go.
    Band,
    /// The kite rod's holder gives.
    RodHolder,
}

/// A load and its share of a strength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadShare {
    /// What carries it.
    pub limit: Limit,
    /// Load, N.
    pub load_n: f64,
    /// Load over strength.
    pub share: f64,
}

/// Loads against every strength that is known; `None` where it is not.
#[must_use]
pub fn loads(rig: &Rig, s: &Sample) -> [Option<LoadShare>; 4] {
    let p = rig.parameters();
    let share = |limit, load_n: f64, strength: Option<f64>| {
        strength.map(|strength_n| LoadShare {
            limit,
            load_n,
            share: load_n / strength_n,
        })
    };
    [
        share(
            Limit::KiteLine,
            s.kite_line_tension_n.max(s.kite_line_tension_above_clip_n),
            p.kite_line.strength_n,
        ),
        share(
            Limit::MainLine,
            s.main_line_tension_n.max(s.main_line_tension_at_ring_n),
            p.main_line.strength_n,
        ),
        share(Limit::Band, s.ring_load_n, p.band_strength_n),
        share(
            Limit::RodHolder,
            s.kite_line_tension_n,
            p.rod_holder_strength_n,
        ),
    ]
}

/// Shares of their strengths up to which loads are allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AllowedShares {
    /// Lines and rod holder.
    pub lines: f64,
    /// Release band.
    pub band: f64,
}

impl AllowedShares {
    /// All of every strength.
    pub const WHOLE: Self = Self {
        lines: 1.0,
        band: 1.0,
    };

    /// The share allowed of one strength.
    #[must_use]
    pub fn of(&self, limit: Limit) -> f64 {
        match limit {
            Limit::Band => self.band,
            Limit::KiteLine | Limit::MainLine | Limit::RodHolder => self.lines,
        }
    }

    /// What reaches its share, the one furthest beyond first.
    fn reached(&self, rig: &Rig, s: &Sample) -> Option<Limit> {
        loads(rig, s)
            .into_iter()
            .flatten()
            .map(|load| (load.limit, load.share / self.of(load.limit)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|(_, used)| *used >= 1.0)
            .map(|(limit, _)| limit)
    }
}

/// The load nearest its strength.
#[must_use]
pub fn heaviest_load(rig: &Rig, s: &Sample) -> Option<LoadShare> {
    loads(rig, s)
        .into_iter()
        .flatten()
        .max_by(|a, b| a.share.total_cmp(&b.share))
}

/// Bisection steps: 20 m/s or 300 m shrink to less than 0.1 mm/s or 0.1 mm.
const HALVINGS: u32 = 24;
/// Strongest wind looked at, m/s at 10 m.
const STRONGEST_MPS: f64 = 25.0;

fn in_wind(c: &Conditions, speed_10m_mps: f64) -> Conditions {
    let mut c = *c;
    c.wind.speed_10m_mps = speed_10m_mps;
    c
}

/// Least true wind at 10 m, m/s, in which the rig still flies usably on this heading and speed,
/// with the reason it does not below. 0 when boat speed alone keeps it up.
///
/// # Errors
/// When no wind up to 25 m/s makes it usable; the reason is that of the given wind.
pub fn least_wind_mps(
    rig: &Rig,
    conditions: &Conditions,
    main_line: MainLine,
) -> Result<(f64, Option<NoTrim>), NoTrim> {
    let usable = |u: f64| steady(rig, &in_wind(conditions, u), main_line, None);
    let mut low_reason = match usable(0.0) {
        Ok(_) => return Ok((0.0, None)),
        Err(e) => e,
    };
    // First usable wind from below: the usable winds are one band, calm below, too much above.
    let mut low = 0.0;
    let mut high = None;
    let mut u = 1.0;
    while u <= STRONGEST_MPS {
        match usable(u) {
            Ok(_) => {
                high = Some(u);
                break;
            }
            Err(e) => {
                low = u;
                low_reason = e;
            }
        }
        u += 0.5;
    }
    let Some(mut high) = high else {
        return Err(usable(conditions.wind.speed_10m_mps)
            .err()
            .unwrap_or(low_reason));
    };
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        match usable(middle) {
            Ok(_) => high = middle,
            Err(e) => {
                low = middle;
                low_reason = e;
            }
        }
    }
    Ok((high, Some(low_reason)))
}

/// What limits the usable wind from above.
#[derive(Debug, Clone, PartialEq)]
pub enum WindCeiling {
    /// The allowed share of a strength is reached.
    Strength(Limit),
    /// No usable trim any more.
    Trim(NoTrim),
    /// Nothing up to 25 m/s.
    None,
}

/// Greatest true wind at 10 m, m/s, from the given one up, before the allowed share of a strength is
/// reached or the trim becomes unusable.
///
/// # Errors
/// When there is no usable trim in the given wind.
pub fn greatest_wind_mps(
    rig: &Rig,
    conditions: &Conditions,
    main_line: MainLine,
    allowed: AllowedShares,
) -> Result<(f64, WindCeiling), NoTrim> {
    let over = |u: f64| -> Option<WindCeiling> {
        match steady(rig, &in_wind(conditions, u), main_line, None) {
            Err(e) => Some(WindCeiling::Trim(e)),
            Ok(s) => allowed.reached(rig, &s.sample).map(WindCeiling::Strength),
        }
    };
    let start = conditions.wind.speed_10m_mps;
    let first: Steady = steady(rig, conditions, main_line, None)?;
    if let Some(limit) = allowed.reached(rig, &first.sample) {
        return Ok((start, WindCeiling::Strength(limit)));
    }
    let mut low = start;
    let mut u = start + 0.5;
    let mut ceiling = WindCeiling::None;
    let mut high = None;
    while u <= STRONGEST_MPS {
        if let Some(c) = over(u) {
            ceiling = c;
            high = Some(u);
            break;
        }
        low = u;
        u += 0.5;
    }
    let Some(mut high) = high else {
        return Ok((STRONGEST_MPS.max(start), WindCeiling::None));
    };
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        match over(middle) {
            Some(c) => {
                high = middle;
                ceiling = c;
            }
            None => low = middle,
        }
    }
    Ok((low, ceiling))
}

/// Kite line out, m, that settles the kite at `elevation_rad`, the one nearest the line out now.
/// `None` when no length between clip and 400 m gives that elevation: it changes by a few degrees
/// only over the whole length.
///
/// # Errors
/// When there is no usable trim with the line out now.
pub fn kite_line_for_elevation_m(
    rig: &Rig,
    conditions: &Conditions,
    elevation_rad: f64,
    main_line: MainLine,
) -> Result<Option<f64>, NoTrim> {
    let now_m = conditions.kite_line_out_m;
    let miss = |m: f64| -> Option<f64> {
        let c = Conditions {
            kite_line_out_m: m,
            ..*conditions
        };
        steady(rig, &c, main_line, None)
            .ok()
            .map(|s| s.sample.kite_elevation_rad - elevation_rad)
    };
    steady(rig, conditions, main_line, None)?;
    let least = rig.parameters().kite_line.clip_to_kite_m + 5.0;
    let most: f64 = 400.0;
    let pieces = 40u32;
    let at = |i: u32| least * (most / least).powf(f64::from(i) / f64::from(pieces));
    let mut best: Option<(f64, f64)> = None;
    for i in 0..pieces {
        let (a, b) = (at(i), at(i + 1));
        if let (Some(ma), Some(mb)) = (miss(a), miss(b))
            && ma * mb <= 0.0
        {
            let far = (0.5 * (a + b) - now_m).abs();
            if best.is_none_or(|(x, y)| far < (0.5 * (x + y) - now_m).abs()) {
                best = Some((a, b));
            }
        }
    }
    let Some((mut a, mut b)) = best else {
        return Ok(None);
    };
    let rising = miss(b) > miss(a);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (a + b);
        match miss(middle) {
            Some(m) if (m < 0.0) == rising => a = middle,
            Some(_) => b = middle,
            None => return Ok(None),
        }
    }
    Ok(Some(0.5 * (a + b)))
}
