//! Follows the moment and makes the forecast of it.

use std::sync::Arc;

use super::ahead::Ahead;
use super::air::AirMemory;
use super::chances::{Weighted, bands, chances, moments_s, share};
use super::ensemble::{Ensemble, Heard, Report};
use super::fan::fan;
use super::future::{Course, Move, run_from};
use super::learnt::{Learnt, LearntError};
use super::limit::limit;
use super::member::{Counted, Now, Stretch};
use super::plan::{plan, steps};
use super::settings::ForecastSettings;
use super::shape::{
    ChanceKind, Crew, FanHeading, Forecast, LinePlan, NoForecast, RigView, TurnAhead, TurnLimit,
};
use super::strain::{clearances_ahead, loads_ahead};
use super::view::view;
use crate::decode::{BaitState, CrewInput};
use crate::rig::{Rig, RigError, RigParameters, Structure};
use crate::time::Millis;
use crate::turn::{Outlook, TurnSource, wrap_rad};
use crate::units::in_metres;
use crate::vessel::{DeckNow, VesselNow};

/// A gap longer than this and the rig is settled anew.
const GAP_S: f64 = 6.0;
/// Ticks closer than this are one.
const LEAST_TICK_S: f64 = 0.4;
/// Line that members follow the count with: it is told after it was done.
const FOLLOW_M_PER_S: f64 = 4.0;
/// A count read anew that differs by more than this share means the rig went out afresh.
const NEW_RIG_SHARE: f64 = 0.35;
/// A report keeps the line anchored for so long.
const ANCHOR_S: f64 = 20.0 * 60.0;
/// From this chance on a plan is looked for.
const PLAN_FROM: f64 = 0.15;
/// Nothing hangs: said with what would help.
const UNBALANCED: &str = "the model finds no way this kite, line and bait hang in this wind: check \
     kite, line out and wind sensor; in very little wind the kite does not fly";
/// A plan is searched for anew after so long; between, the last one is carried on.
const SEARCH_S: f64 = 6.0;

/// Follows the boat and the crew, and foresees.
#[derive(Debug, Clone)]
pub struct Forecaster {
    settings: ForecastSettings,
    base: Option<RigParameters>,
    sensor_height_m: f64,
    structures: Arc<[Structure]>,
    recalled: Option<Arc<Learnt>>,
    discarded: Option<String>,
    /// Reports weighed or taken back so far.
    lessons: u64,
    taught_at: Option<Millis>,
    air: AirMemory,
    ensemble: Option<Ensemble>,
    counted: Option<Counted>,
    count_told: bool,
    last: Option<Tick>,
    heard: HeardSoFar,
    made: Option<Made>,
    settled: Option<Settled>,
    plan: Option<(Millis, Millis, Vec<Move>)>,
}

#[derive(Debug, Clone, Copy)]
struct Tick {
    at: Millis,
    heading_rad: f64,
    speed_mps: f64,
}

/// What the crew has said so far.
#[derive(Debug, Clone, Copy, Default)]
struct HeardSoFar {
    bait_at: Option<Millis>,
    elevation_at: Option<Millis>,
    bearing_at: Option<Millis>,
    anchored_at: Option<Millis>,
    contradicted_at: Option<Millis>,
}

#[derive(Debug, Clone)]
struct Made {
    forecast: Arc<Forecast>,
    ahead: Option<(TurnSource, Millis, f64)>,
}

#[derive(Debug, Clone)]
struct Settled {
    at: Millis,
    for_deg: Option<f64>,
    heading_rad: f64,
    fan: Vec<FanHeading>,
    limit: TurnLimit,
}

impl Forecaster {
    /// Knows the rig (or not yet) and where the wind sensor sits.
    ///
    /// # Errors
    /// Every complaint about the rig.
    pub fn new(
        settings: ForecastSettings,
        rig: Option<RigParameters>,
        wind_sensor_height_m: f64,
    ) -> Result<Self, Vec<RigError>> {
        if let Some(parameters) = &rig {
            Rig::new(parameters)?;
        }
        Ok(Self {
            settings,
            base: rig,
            sensor_height_m: wind_sensor_height_m,
            structures: Arc::default(),
            recalled: None,
            discarded: None,
            lessons: 0,
            taught_at: None,
            air: AirMemory::default(),
            ensemble: None,
            counted: None,
            count_told: false,
            last: None,
            heard: HeardSoFar::default(),
            made: None,
            settled: None,
            plan: None,
        })
    }

    /// The same, minding what stands on the boat.
    #[must_use]
    pub fn with_structures(self, structures: Vec<Structure>) -> Self {
        Self {
            structures: structures.into(),
            ..self
        }
    }

    /// Starts from what was learnt of this rig earlier.
    ///
    /// # Errors
    /// Why it is of no use; it is then left aside.
    pub fn recall(&mut self, learnt: Learnt) -> Result<(), LearntError> {
        let rig = self.base.as_ref().ok_or(LearntError::OtherRig)?;
        learnt.fits(rig, &self.settings.doubt)?;
        self.recalled = Some(Arc::new(learnt));
        self.ensemble = None;
        Ok(())
    }

    /// What was learnt earlier cannot be used: `why` is told with every forecast.
    pub fn discard(&mut self, why: &str) {
        self.recalled = None;
        self.discarded = Some(why.to_owned());
    }

    /// Takes over what another has learnt, where that was of the same rig.
    #[must_use]
    pub fn succeeding(mut self, old: &Self) -> Self {
        let learnt = old.learnt().or_else(|| old.recalled.as_deref().cloned());
        if let Some(learnt) = learnt
            && let Err(why) = self.recall(learnt)
        {
            self.discard(&why.to_string());
        }
        self
    }

    /// How often reports have changed what is believed, and when last: with another answer there
    /// is more to keep.
    #[must_use]
    pub fn lessons(&self) -> Option<(u64, Millis)> {
        self.taught_at.map(|at| (self.lessons, at))
    }

    /// What is believed of the rig now; `None` before the crew has reported anything, and while
    /// the model finds no way the rig hangs.
    #[must_use]
    pub fn learnt(&self) -> Option<Learnt> {
        let (rig, ensemble) = (self.base.as_ref()?, self.ensemble.as_ref()?);
        if ensemble.weights().iter().sum::<f64>() <= 0.0 {
            return None;
        }
        let before = self.recalled.as_ref().map_or(0, |learnt| learnt.reports());
        Some(Learnt::of(
            self.taught_at?,
            before.saturating_add(self.lessons),
            rig,
            self.settings.doubt,
            ensemble,
        ))
    }

    fn first_members(&self) -> Ensemble {
        let fresh = Ensemble::new(&self.settings);
        match &self.recalled {
            Some(learnt) => fresh.taught(learnt.beliefs()),
            None => fresh,
        }
    }

    /// Takes in what the crew said. Only what the deck cannot tell afterwards is kept from it:
    /// that a line was counted afresh rather than moved. Everything else is read from the deck.
    pub fn observe(&mut self, _at: Millis, input: &CrewInput) {
        if let CrewInput::LinesOut { kite, main } = input {
            let differs = |new: Option<f64>, old: Option<f64>| match (new, old) {
                (Some(new), Some(old)) => (new - old).abs() > NEW_RIG_SHARE * old,
                _ => false,
            };
            let old = self.counted;
            if differs(kite.map(in_metres), old.map(|c| c.kite_m))
                || differs(main.map(in_metres), old.map(|c| c.main_m))
            {
                self.counted = None;
            }
            self.count_told = true;
        }
    }

    /// Forgets what the members have learnt, as after a change of kite or bait.
    pub fn forget(&mut self) {
        self.ensemble = None;
        self.recalled = None;
        self.taught_at = None;
        self.counted = None;
        self.heard = HeardSoFar::default();
        self.made = None;
        self.settled = None;
        self.plan = None;
    }

    /// The forecast as of `at`. To be called about once a second, in order of time: it also
    /// follows boat, air and crew. With nothing new it gives the last forecast again.
    ///
    /// # Errors
    /// What is missing, each with its cure.
    pub fn forecast(
        &mut self,
        at: Millis,
        vessel: &VesselNow,
        deck: &DeckNow,
        outlook: &Outlook,
    ) -> Result<Arc<Forecast>, NoForecast> {
        self.air.follow(vessel);
        match self.ready(at, vessel, deck, outlook) {
            Ok(ready) => {
                let news = self.follow(at, deck, &ready);
                self.make(at, vessel, deck, outlook, &ready, news)
            }
            Err(reasons) => {
                self.made = None;
                Err(NoForecast { reasons })
            }
        }
    }

    /// Everything a forecast needs, or what is missing.
    fn ready(
        &self,
        at: Millis,
        vessel: &VesselNow,
        deck: &DeckNow,
        outlook: &Outlook,
    ) -> Result<Ready, Vec<String>> {
        let mut reasons: Vec<String> = vessel
            .missing
            .iter()
            .map(|missing| format!("{}: check the instrument and the network", missing.why))
            .collect();
        let speed = vessel
            .speed_water_mps
            .as_ref()
            .or(vessel.speed_ground_mps.as_ref());
        if reasons.is_empty() {
            if !self.air.known() || vessel.true_wind.is_none() {
                reasons.push("no wind yet: check the wind sensor and the network".to_owned());
            }
            if outlook.profile.is_none() {
                reasons.push("no heading yet: check the compass and the network".to_owned());
            }
            if speed.is_none() {
                reasons.push("no speed yet: check the log or the position receiver".to_owned());
            }
        }
        if self.base.is_none() {
            reasons
                .push("the rig is not set: enter kite, lines and bait in the settings".to_owned());
        }
        if !deck.fishing {
            return Err(vec![
                "fishing has stopped: say that it starts when the rig goes out".to_owned(),
            ]);
        }
        if deck.lines.kite_m.is_none() {
            reasons.push("kite line out is not known: enter it".to_owned());
        }
        if deck.lines.main_m.is_none() {
            reasons.push("main line out is not known: enter it".to_owned());
        }
        if let Some(bite) = deck.bite_at {
            reasons.push(format!(
                "a fish took the bait {}: enter the lines when the bait is out again",
                long_ago(Some(at.seconds_since(bite)))
            ));
        }
        let (Some(speed), Some(profile), Some(base), Some(kite_m), Some(main_m)) = (
            speed,
            outlook.profile,
            &self.base,
            deck.lines.kite_m,
            deck.lines.main_m,
        ) else {
            return Err(reasons);
        };
        let least_kite = base.kite_line.clip_to_kite_m + 3.0;
        if kite_m.is_nan() || kite_m < least_kite {
            reasons.push(format!(
                "kite line out is {kite_m} m, less than from clip to kite ({least_kite:.0} m and more is needed)"
            ));
        }
        let least_main = base.marker.above_bait_m + 3.0;
        if main_m.is_nan() || main_m < least_main {
            reasons.push(format!(
                "main line out is {main_m} m ({least_main:.0} m and more is needed)"
            ));
        }
        if !reasons.is_empty() {
            return Err(reasons);
        }
        Ok(Ready {
            profile,
            speed_mps: speed.value.clamp(0.0, 20.0),
            kite_m,
            main_m,
        })
    }

    /// Brings the members to the moment and lets them hear the crew. True when something was
    /// heard.
    fn follow(&mut self, at: Millis, deck: &DeckNow, ready: &Ready) -> bool {
        let Some(base) = self.base.clone() else {
            return false;
        };
        let settings = self.settings;
        let mut news = false;
        let before = self.counted;
        let counted = match before {
            Some(old) if !self.count_told => Counted {
                kite_m: ready.kite_m,
                main_m: ready.main_m,
                ..old
            },
            _ => Counted {
                kite_m: ready.kite_m,
                main_m: ready.main_m,
                kite_told_m: ready.kite_m,
                main_told_m: ready.main_m,
            },
        };
        self.counted = Some(counted);
        let told = std::mem::take(&mut self.count_told);
        let mut ensemble = self.ensemble.take().unwrap_or_else(|| self.first_members());
        let air = self.air.clone();
        let now = Now {
            base: &base,
            doubt: &settings.doubt,
            air: &air,
            heading_rad: ready.profile.heading_rad,
            speed_mps: ready.speed_mps,
            sensor_height_m: self.sensor_height_m,
            counted,
            pace_m_per_s: FOLLOW_M_PER_S,
        };
        match before {
            Some(old) if told => {
                ensemble.recounted(at, old, counted, &now);
                news = true;
            }
            Some(old) if old.main_m != counted.main_m || old.kite_m != counted.kite_m => {
                ensemble.corrected(counted.main_m - old.main_m, &settings.doubt);
                news = true;
            }
            Some(_) => {}
            None => {
                // The rig went out afresh: nothing hangs yet, errors of the old count are gone.
                for member in &mut ensemble.members {
                    member.state = None;
                    member.belief.main_extra_m = 0.0;
                }
                ensemble.typical.state = None;
                ensemble.typical.belief.main_extra_m = 0.0;
                news = true;
            }
        }
        let elapsed = self.last.map(|last| at.seconds_since(last.at));
        if elapsed.is_none_or(|s| !(0.0..LEAST_TICK_S).contains(&s)) {
            let stretch = self.last.zip(elapsed).and_then(|(last, over_s)| {
                (0.0..=GAP_S).contains(&over_s).then(|| {
                    let step = wrap_rad(now.heading_rad - last.heading_rad);
                    Stretch {
                        over_s,
                        heading_rad: (now.heading_rad - step, now.heading_rad),
                        speed_mps: (last.speed_mps, now.speed_mps),
                    }
                })
            });
            ensemble.follow(&now, stretch);
            self.last = Some(Tick {
                at,
                heading_rad: now.heading_rad,
                speed_mps: now.speed_mps,
            });
        }
        if before.is_none() {
            ensemble.weigh(at, Report::Trimmed, &now);
        }
        if self.hear(at, deck, &mut ensemble, &now) {
            self.lessons = self.lessons.saturating_add(1);
            self.taught_at = Some(at);
            news = true;
        }
        ensemble.renew(at, &now);
        self.ensemble = Some(ensemble);
        news
    }

    /// New reports of the crew.
    fn hear(&mut self, at: Millis, deck: &DeckNow, ensemble: &mut Ensemble, now: &Now<'_>) -> bool {
        let heard = &mut self.heard;
        let mut news = false;
        match (deck.bait, heard.bait_at) {
            (Some(seen), last) if last.is_none_or(|last| seen.at > last) => {
                heard.bait_at = Some(seen.at);
                let result = ensemble.weigh(at, Report::Bait(seen.state), now);
                heard.contradicted_at = (result == Heard::Contradicts).then_some(at);
                if result == Heard::Contradicts {
                    ensemble.rescue(seen.state, now);
                }
                if seen.state == BaitState::Skipping {
                    heard.anchored_at = Some(seen.at);
                }
                news = true;
            }
            (seen, Some(last)) if seen.is_none_or(|seen| seen.at < last) => {
                ensemble.take_back(at);
                heard.bait_at = seen.map(|seen| seen.at);
                heard.anchored_at = seen
                    .filter(|seen| seen.state == BaitState::Skipping)
                    .map(|seen| seen.at);
                heard.contradicted_at = None;
                news = true;
            }
            _ => {}
        }
        let fresh = |seen: Option<(f64, Millis)>, last: &mut Option<Millis>| {
            seen.filter(|(_, when)| last.is_none_or(|last| *when > last))
                .map(|(angle, when)| {
                    *last = Some(when);
                    angle
                })
        };
        if let Some(angle) = fresh(deck.elevation_rad, &mut heard.elevation_at) {
            ensemble.weigh(at, Report::Elevation(angle), now);
            news = true;
        }
        if let Some(angle) = fresh(deck.bearing_rad, &mut heard.bearing_at) {
            ensemble.weigh(at, Report::Bearing(angle), now);
            news = true;
        }
        if news {
            ensemble.find_typical(now);
        }
        news
    }

    /// Whether the last forecast still stands.
    fn stands(&self, at: Millis, outlook: &Outlook, news: bool) -> Option<Arc<Forecast>> {
        let made = self.made.as_ref().filter(|_| !news)?;
        let age = at.seconds_since(made.forecast.made_at);
        let same = match (made.ahead, key(at, outlook, self.settings.horizon_s)) {
            (None, None) => !outlook.turning,
            (Some((s0, t0, h0)), Some((s1, t1, h1))) => {
                s0 == s1
                    && t1.seconds_since(t0).abs() < 1.5
                    && wrap_rad(h1 - h0).abs() < 0.05
                    && age < 0.9
            }
            _ => false,
        };
        (same && (0.0..self.settings.calm_refresh_s).contains(&age))
            .then(|| Arc::clone(&made.forecast))
    }

    fn make(
        &mut self,
        at: Millis,
        vessel: &VesselNow,
        deck: &DeckNow,
        outlook: &Outlook,
        ready: &Ready,
        news: bool,
    ) -> Result<Arc<Forecast>, NoForecast> {
        if let Some(standing) = self.stands(at, outlook, news) {
            return Ok(standing);
        }
        let settings = self.settings;
        let ensemble = self.ensemble.take().unwrap_or_else(|| self.first_members());
        let structures = Arc::clone(&self.structures);
        let ahead = Ahead::new(
            at,
            &settings,
            &ensemble,
            ready.profile,
            ready.speed_mps,
            self.air.spread(),
            vessel.wind_statistics.as_ref(),
        )
        .minding(&structures);
        let futures = ahead.all();
        let turn = turn_ahead(at, outlook, ready, settings.horizon_s);
        let for_deg = turn.map(|t| t.by_deg).filter(|by| by.abs() >= 10.0);
        self.settle(at, &ahead, &ensemble, for_deg, news);
        let trouble = [ChanceKind::BaitAirborne, ChanceKind::BaitDragging]
            .into_iter()
            .map(|kind| share(&futures, kind, &settings))
            .fold(0.0, f64::max);
        let planned = (trouble >= PLAN_FROM).then(|| {
            let lines_at = deck.lines_at.unwrap_or(at);
            let last = self.plan.take();
            let carried = last.as_ref().filter(|(_, lines, _)| *lines == lines_at);
            let age = carried.map_or(f64::INFINITY, |(when, ..)| at.seconds_since(*when));
            let changed = news
                || self
                    .made
                    .as_ref()
                    .is_none_or(|made| made.ahead.is_some() != turn.is_some());
            let search = changed || age >= SEARCH_S;
            let passed_s = self
                .made
                .as_ref()
                .map_or(0.0, |made| at.seconds_since(made.forecast.made_at));
            let moved_on = carried.map(|(_, _, moves)| {
                moves
                    .iter()
                    .map(|step| Move {
                        start_s: (step.start_s - passed_s).max(0.0),
                        ..*step
                    })
                    .collect()
            });
            let planned = plan(&ahead, &futures, moved_on, search);
            (
                planned,
                if search {
                    at
                } else {
                    carried.map_or(at, |c| c.0)
                },
                lines_at,
            )
        });
        let Some((rig_now, rig_then)) = views(&ahead, &ensemble, vessel, at) else {
            self.made = None;
            self.ensemble = Some(ensemble);
            return Err(NoForecast {
                reasons: vec![UNBALANCED.to_owned()],
            });
        };
        let t_s = moments_s(settings.horizon_s);
        let with_plan = planned
            .as_ref()
            .and_then(|(planned, ..)| planned.futures.as_deref());
        let settled = self.settled.as_ref();
        let forecast = Arc::new(Forecast {
            made_at: at,
            horizon_s: settings.horizon_s,
            members: futures.len(),
            basis: basis(&futures, ensemble.members.len()),
            bait_height_m: bands(&futures, &t_s, |t| &t.bait_height_m),
            immersion: bands(&futures, &t_s, |t| &t.immersion),
            kite_elevation_deg: bands(&futures, &t_s, |t| &t.elevation_deg),
            kite_off_astern_deg: bands(&futures, &t_s, |t| &t.off_astern_deg),
            bait_height_with_plan_m: with_plan
                .map_or_else(Vec::new, |f| bands(f, &t_s, |t| &t.bait_height_m)),
            chances: chances(&futures, with_plan, &settings),
            loads: self
                .base
                .as_ref()
                .map_or_else(Vec::new, |base| loads_ahead(&futures, base)),
            clearances: clearances_ahead(&futures, &structures),
            turn,
            plan: planned.as_ref().map(|(planned, ..)| LinePlan {
                steps: steps(&planned.moves, &settings),
                skipping_without: planned.skipping_without,
                skipping_with: planned.skipping_with,
                shortfall: planned.shortfall.clone(),
            }),
            turn_limit: settled.map(|s| s.limit.clone()),
            fan: settled.map_or_else(Vec::new, |s| s.fan.clone()),
            rig_now,
            rig_then,
            crew: self.crew(at, deck),
            t_s,
        });
        self.plan =
            planned.map(|(planned, searched, lines_at)| (searched, lines_at, planned.moves));
        self.made = Some(Made {
            forecast: Arc::clone(&forecast),
            ahead: key(at, outlook, settings.horizon_s),
        });
        self.ensemble = Some(ensemble);
        Ok(forecast)
    }

    /// Fan and limits, worked out anew only when they may have changed.
    fn settle(
        &mut self,
        at: Millis,
        ahead: &Ahead<'_>,
        ensemble: &Ensemble,
        for_deg: Option<f64>,
        news: bool,
    ) {
        let heading_rad = ahead.profile.heading_rad;
        let stands = self.settled.as_ref().is_some_and(|old| {
            let same_turn = match (old.for_deg, for_deg) {
                (Some(a), Some(b)) => (a.abs() - b.abs()).abs() < 15.0,
                (None, None) => true,
                // A turn that is over needs no new limits at once.
                (Some(_), None) => true,
                (None, Some(_)) => false,
            };
            let age = at.seconds_since(old.at);
            !news
                && same_turn
                && (0.0..ahead.settings.settled_refresh_s).contains(&age)
                && wrap_rad(old.heading_rad - heading_rad).abs() < 0.15
        });
        if stands {
            return;
        }
        self.settled = Some(Settled {
            at,
            for_deg,
            heading_rad,
            fan: fan(
                &ensemble.typical,
                ahead.settings,
                heading_rad,
                ahead.speed_mps,
                ahead.structures,
            ),
            limit: limit(ahead, for_deg),
        });
    }

    fn crew(&self, at: Millis, deck: &DeckNow) -> Crew {
        let heard = &self.heard;
        let age_s = deck.bait.map(|seen| at.seconds_since(seen.at));
        let anchored = heard
            .anchored_at
            .is_some_and(|when| at.seconds_since(when) <= ANCHOR_S);
        let contradicted = heard
            .contradicted_at
            .is_some_and(|when| at.seconds_since(when) <= 120.0);
        let ago = |when: Millis| {
            let s = at.seconds_since(when).max(0.0);
            if s < 90.0 {
                format!("{s:.0} s ago")
            } else {
                format!("{:.0} min ago", s / 60.0)
            }
        };
        let mut note = if contradicted {
            "The last report contradicts nearly every member: widened, a second look would help."
                .to_owned()
        } else {
            match (heard.anchored_at, age_s) {
                (Some(when), _) if anchored => {
                    format!("Calibrated: the crew saw the bait skip {}.", ago(when))
                }
                (_, Some(_)) => "Calibrated in part: no skipping bait reported lately.".to_owned(),
                _ => "Assumed: nobody has said yet what the bait does, so this is wide.".to_owned(),
            }
        };
        let learnt_age_s = self
            .recalled
            .as_ref()
            .map(|learnt| at.seconds_since(learnt.learnt_at()));
        match (&self.recalled, &self.discarded) {
            (Some(learnt), _) => note.push_str(&format!(
                " Begun from what {} earlier reports have taught, the last {}.",
                learnt.reports(),
                long_ago(learnt_age_s)
            )),
            (None, Some(why)) => {
                note.push_str(&format!(" What was learnt earlier is discarded: {why}."));
            }
            (None, None) => {}
        }
        Crew {
            anchored,
            age_s,
            learnt_age_s,
            note,
        }
    }
}

/// An age as people say it.
fn long_ago(age_s: Option<f64>) -> String {
    const HOUR_S: f64 = 3600.0;
    match age_s {
        Some(s) if (0.0..60.0).contains(&s) => "just now".to_owned(),
        Some(s) if (0.0..1.5 * HOUR_S).contains(&s) => format!("{:.0} min ago", s / 60.0),
        Some(s) if (0.0..48.0 * HOUR_S).contains(&s) => format!("{:.0} h ago", s / HOUR_S),
        Some(s) if s >= 0.0 => format!("{:.0} days ago", s / (24.0 * HOUR_S)),
        // A boat's clock may start anywhere.
        _ => "at a time that the clock here cannot tell".to_owned(),
    }
}

#[derive(Debug, Clone, Copy)]
struct Ready {
    profile: crate::turn::HeadingProfile,
    speed_mps: f64,
    kite_m: f64,
    main_m: f64,
}

fn basis(futures: &[Weighted], members: usize) -> String {
    let lost = futures
        .iter()
        .filter(|f| f.trace.ended_s.is_some() && !f.trace.kite_down)
        .map(|f| f.weight)
        .sum::<f64>();
    let mut words =
        format!("Weighted share of {members} members with other rigs, winds and gusts.");
    if lost > 0.05 {
        words.push_str(&format!(
            " In {:.0} of 100 the model gave up before the end.",
            100.0 * lost
        ));
    }
    words
}

/// What a forecast was made for: source, start, heading it leads to.
fn key(at: Millis, outlook: &Outlook, horizon_s: f64) -> Option<(TurnSource, Millis, f64)> {
    let ahead = outlook.ahead.as_ref()?;
    if ahead.starts_in_s >= horizon_s {
        return None;
    }
    let profile = outlook.profile?;
    Some((
        ahead.source,
        at.plus_seconds(ahead.starts_in_s),
        profile.final_heading_rad(),
    ))
}

fn turn_ahead(at: Millis, outlook: &Outlook, ready: &Ready, horizon_s: f64) -> Option<TurnAhead> {
    key(at, outlook, horizon_s)?;
    let ahead = outlook.ahead.as_ref()?;
    Some(TurnAhead {
        source: ahead.source,
        starts_in_s: ahead.starts_in_s,
        by_deg: ahead.by_rad.to_degrees(),
        rate_deg_s: ahead.rate_rad_s.to_degrees(),
        to_heading_deg_true: ready.profile.final_heading_rad().to_degrees(),
        chance: ahead.doubt.chance,
    })
}

/// The typical rig now and at the end of the turn, or of the horizon.
fn views(
    ahead: &Ahead<'_>,
    ensemble: &Ensemble,
    vessel: &VesselNow,
    at: Millis,
) -> Option<(RigView, RigView)> {
    let typical = &ensemble.typical;
    let (rig, state) = (typical.rig.as_ref()?, typical.state.clone()?);
    let (air, lines) = (typical.air?, typical.lines?);
    let horizon_s = ahead.settings.horizon_s;
    let then_s = if ahead.profile.turn.is_some() {
        (ahead.profile.helm_done_s() + 2.0 * ahead.profile.yaw_time_constant_s)
            .ceil()
            .min(horizon_s)
    } else {
        horizon_s
    };
    let winds = super::air::Gusts::none().path(
        at,
        &air,
        (0.0, 0.0),
        vessel.wind_statistics.as_ref(),
        horizon_s,
    );
    let course = Course {
        profile: ahead.profile,
        speed_mps: ahead.speed_mps,
        winds: &winds,
        lines,
        moves: &[],
        structures: &[],
    };
    let (mut now, mut then) = (None, None);
    run_from(rig, state, course, then_s, |t_s, sample| {
        let drawn = view(t_s, sample);
        if now.is_none() {
            now = Some(drawn.clone());
        }
        then = Some(drawn);
    });
    now.zip(then)
}
