//! How long a forecast stands: the pace of forecasts follows what is at stake.
//!
//! In: a forecast with what it was made for, and the present. Out: whether it is still valid.
//!
//! | at stake | a forecast stands for |
//! |---|---|
//! | a turn under way, or one that begins within [`NEAR_S`] | [`NEAR_TURN_S`] |
//! | a turn that comes later | [`LATER_TURN_S`] |
//! | no turn, but a pressing trouble with a chance of [`PLAN_FROM`] or more, soon | [`SOON_S`] |
//! | the same, later | [`DOUBTFUL_S`] |
//! | nothing | `forecast.calm_refresh_s` |
//!
//! It falls at once when the crew has reported something or the turns ahead are others. It also
//! falls, though not within [`LEAST_S`], when the boat heads elsewhere than it foresaw, or when
//! boat speed or wind have left what it started from. All of these are judgement: a person at the
//! reel cannot act on a change of two seconds.

use std::sync::Arc;

use super::filter::Particles;
use super::plan::PLAN_FROM;
use super::ready::Ready;
use super::settings::ForecastSettings;
use super::shape::Forecast;
use crate::angles::wrap_signed;
use crate::time::Millis;
use crate::turn::{HeadingProfile, Outlook, TurnSource};

/// A turn that begins within this time is near.
const NEAR_S: f64 = 15.0;
/// How long a forecast stands: see the head of the file.
const NEAR_TURN_S: f64 = 2.0;
const LATER_TURN_S: f64 = 3.0;
const SOON_S: f64 = 4.0;
const DOUBTFUL_S: f64 = 8.0;
/// A trouble whose onset is nearer than this in half of its futures comes soon.
const ONSET_SOON_S: f64 = 20.0;
/// A forecast younger than this stands whatever boat and wind do.
const LEAST_S: f64 = 0.9;
/// Departures that end a forecast: heading from the one foreseen; boat speed and wind (both as a
/// share, the wind as a vector) from what they were.
const HEADING_RAD: f64 = 0.06;
const SPEED_SHARE: f64 = 0.15;
const WIND_SHARE: f64 = 0.1;
/// Turns that differ by no more than this are the same: start, and heading after it.
const SAME_START_S: f64 = 1.5;
const SAME_HEADING_RAD: f64 = 0.05;

/// A forecast with what it was made for.
#[derive(Debug, Clone)]
pub struct Made {
    forecast: Arc<Forecast>,
    turns: Vec<KnownTurn>,
    profile: HeadingProfile,
    speed_mps: f64,
    wind: Option<[f64; 2]>,
}

/// A turn within the horizon.
#[derive(Debug, Clone, Copy)]
struct KnownTurn {
    source: TurnSource,
    starts_at: Millis,
    heading_after_rad: f64,
}

impl KnownTurn {
    fn is_same(&self, other: &Self) -> bool {
        self.source == other.source
            && other.starts_at.seconds_since(self.starts_at).abs() < SAME_START_S
            && wrap_signed(other.heading_after_rad - self.heading_after_rad).abs()
                < SAME_HEADING_RAD
    }
}

/// The turns within the horizon.
fn turns(at: Millis, outlook: &Outlook, horizon_s: f64) -> Vec<KnownTurn> {
    let Some(profile) = &outlook.profile else {
        return Vec::new();
    };
    let turns = outlook.turns.iter().enumerate();
    turns
        .take_while(|(_, turn)| turn.starts_in_s < horizon_s)
        .map(|(i, turn)| KnownTurn {
            source: turn.source,
            starts_at: at.plus_seconds(turn.starts_in_s),
            heading_after_rad: profile.heading_after_rad(i + 1),
        })
        .collect()
}

/// Wind at the rig without gusts, as the weighted mean belief has it. Gusts come and go within a
/// forecast.
fn wind(particles: Option<&Particles>) -> Option<[f64; 2]> {
    Some(particles?.typical().air?.mean.vector_10m_mps())
}

impl Made {
    /// A forecast made at its `made_at` from this.
    pub fn new(
        forecast: Forecast,
        outlook: &Outlook,
        ready: &Ready,
        particles: &Particles,
    ) -> Self {
        Self {
            turns: turns(forecast.made_at, outlook, forecast.horizon_s),
            profile: ready.profile.clone(),
            speed_mps: ready.speed_mps,
            wind: wind(Some(particles)),
            forecast: Arc::new(forecast),
        }
    }

    /// Its forecast.
    pub fn forecast(&self) -> Arc<Forecast> {
        Arc::clone(&self.forecast)
    }

    /// Its forecast, if that is still valid.
    pub fn stands(
        &self,
        at: Millis,
        outlook: &Outlook,
        ready: &Ready,
        particles: Option<&Particles>,
        settings: &ForecastSettings,
    ) -> Option<Arc<Forecast>> {
        let age = at.seconds_since(self.forecast.made_at);
        let turns = turns(at, outlook, settings.horizon_s);
        let same_turns = self.turns.len() == turns.len()
            && self.turns.iter().zip(&turns).all(|(a, b)| a.is_same(b));
        let lasts_s = self.lasts_s(at, outlook, &turns, settings);
        let valid = same_turns
            && (0.0..lasts_s).contains(&age)
            && (age < LEAST_S || self.came_true(age, ready, wind(particles)));
        valid.then(|| self.forecast())
    }

    fn lasts_s(
        &self,
        at: Millis,
        outlook: &Outlook,
        turns: &[KnownTurn],
        settings: &ForecastSettings,
    ) -> f64 {
        let chances = self.forecast.chances.iter();
        let pressing = chances.filter(|c| c.kind.presses() && c.chance >= PLAN_FROM);
        let soonest_s = pressing
            .filter_map(|c| c.onset_s.map(|onset| onset.p50))
            .fold(f64::INFINITY, f64::min);
        let near = |turn: &KnownTurn| turn.starts_at.seconds_since(at) < NEAR_S;
        let stake_s = if outlook.turning || turns.iter().any(near) {
            NEAR_TURN_S
        } else if !turns.is_empty() {
            LATER_TURN_S
        } else if soonest_s < ONSET_SOON_S {
            SOON_S
        } else if soonest_s.is_finite() {
            DOUBTFUL_S
        } else {
            settings.calm_refresh_s
        };
        stake_s.min(settings.calm_refresh_s)
    }

    /// Whether boat and wind are where this forecast has them after `age_s`.
    fn came_true(&self, age_s: f64, ready: &Ready, wind: Option<[f64; 2]>) -> bool {
        let foreseen = self.profile.motion(age_s).heading_rad;
        let heading_off = wrap_signed(ready.profile.heading_rad - foreseen).abs();
        let speed_off = (ready.speed_mps - self.speed_mps).abs();
        let wind_off = match (self.wind, wind) {
            (Some(then), Some(now)) => {
                (now[0] - then[0]).hypot(now[1] - then[1]) / then[0].hypot(then[1]).max(1.0)
            }
            _ => 0.0,
        };
        heading_off < HEADING_RAD
            && speed_off < SPEED_SHARE * self.speed_mps.max(1.0)
            && wind_off < WIND_SHARE
    }
}
