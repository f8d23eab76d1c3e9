//! A fish on, and the kite home, as the API shows it.

use serde::Serialize;
use utoipa::ToSchema;

use super::quantities::{PositionAnswer, TrueWindAnswer};
use super::recorder::RecorderAnswer;
use crate::decode::BaitState;
use crate::strike::{Clearance, Hand, Recovery, StrikeNow, Way, Winding, after, prompt};
use crate::time::Millis;
use crate::vessel::{StrikeCause, StrikeEnd, StrikeStep};

/// Input before it that is worth a look afterwards, s.
const BEFORE_S: f64 = 120.0;

/// The boat and its lines when it began; `null` where nothing live was known.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ThenAnswer {
    /// Where.
    pub position: Option<PositionAnswer>,
    /// True heading, 0..360.
    pub heading_deg_true: Option<f64>,
    /// Speed through the water, else over ground.
    pub speed_mps: Option<f64>,
    /// Wind over the water.
    pub true_wind: Option<TrueWindAnswer>,
    /// Kite line out, by the crew's count.
    pub kite_line_out_m: Option<f64>,
    /// Main line out, by the crew's count.
    pub main_line_out_m: Option<f64>,
    /// What the bait was last seen to do.
    pub bait: Option<BaitState>,
    /// Beginning of the two minutes of input before it.
    #[schema(value_type = String, format = DateTime)]
    pub input_from: Millis,
    /// The file that is recorded to now, and holds them if it was begun before; `null` when nothing
    /// is recorded.
    pub recording: Option<String>,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StepAnswer {
    /// Which.
    pub step: StrikeStep,
    /// Who does it.
    pub who: Hand,
    /// What, in few words.
    pub title: &'static str,
    /// What, in a sentence or two.
    pub what: &'static str,
    /// What the helm does meanwhile.
    pub helm: &'static str,
    /// Whether it is done, or passed over.
    pub answered: bool,
    /// When it was done; `null` when it was passed over or is to be done.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub answered_at: Option<Millis>,
}

/// How it ended.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EndAnswer {
    /// How.
    pub how: StrikeEnd,
    /// When.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// What to think of then.
    pub what: &'static str,
}

/// Where the fish was pointed out.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FishAnswer {
    /// Off the bow at that moment, + to starboard.
    pub off_bow_deg: f64,
    /// True bearing; `null` when the heading was not known.
    pub bearing_deg_true: Option<f64>,
    /// When.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
}

/// The heading on which the kite comes in, as worked out when it was asked for.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KiteInAnswer {
    /// Whether it keeps kite line, hooked line and structures apart.
    pub verdict: Clearance,
    /// The heading.
    pub heading_deg_true: f64,
    /// Turn to it from the heading of then, + to starboard.
    pub turn_deg: f64,
    /// The way.
    pub way: Way,
    /// Whether the lines stay apart on the way there.
    pub way_clear: bool,
    /// Room beyond what is asked; negative where something fouls, `null` where nothing is near.
    pub clear_by_m: Option<f64>,
    /// What is nearest, or fouls.
    pub nearest: String,
    /// Kite off dead astern of its rod there, + to starboard.
    pub kite_off_astern_deg: f64,
    /// Fish off the bow there, + to starboard; `null` without a fish.
    pub fish_off_bow_deg: Option<f64>,
    /// Kite line out with which the kite may drop into the water; `null` when it stays up.
    pub drops_with_m: Option<f64>,
    /// Kite line out, below 20 m, with which something comes too near; `null` when nothing does then.
    pub last_metres_m: Option<f64>,
    /// What that is.
    pub last_metres: Option<String>,
    /// Of the headings that are as clear, the one on which the kite pulls least.
    pub easiest_deg_true: f64,
    /// Load, pace and path while it is wound in there.
    pub winding: Winding,
}

/// A fish on, or the kite on its way home.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StrikeAnswer {
    /// Which of the two.
    pub cause: StrikeCause,
    /// When it began.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// The step asked for now.
    pub step: StrikeStep,
    /// All its steps, in order.
    pub steps: Vec<StepAnswer>,
    /// How it ended; `null` while it goes on. Nothing is forecast until the lines out are told
    /// again.
    pub ended: Option<EndAnswer>,
    /// Whether the kite is in and secured.
    pub kite_in: bool,
    /// The boat and its lines when it began.
    pub then: ThenAnswer,
    /// Where the fish was last pointed out.
    pub fish: Option<FishAnswer>,
    /// Drag of the main reel once hooked, from `[locker]`.
    pub hooked_drag_n: f64,
    /// How the kite comes in; `null` before that is asked for, and when it is not known.
    pub kite: Option<KiteInAnswer>,
    /// Why it is not known; `null` when it is, or is not asked for.
    pub kite_unknown: Option<String>,
}

impl StrikeAnswer {
    pub(super) fn new(now: &StrikeNow, recorder: &RecorderAnswer) -> Self {
        let strike = &now.strike;
        let then = &now.then;
        let (kite, kite_unknown) = match &now.kite_in {
            None => (None, None),
            Some(Ok(found)) => (Some(KiteInAnswer::new(found)), None),
            Some(Err(why)) => (None, Some(why.clone())),
        };
        Self {
            cause: strike.cause,
            at: strike.at,
            step: strike.step,
            steps: (strike.cause.steps().iter())
                .map(|step| {
                    let asked = prompt(*step);
                    StepAnswer {
                        step: *step,
                        who: asked.who,
                        title: asked.title,
                        what: asked.what,
                        helm: asked.helm,
                        answered: strike.is_answered(*step),
                        answered_at: strike.answered_at(*step),
                    }
                })
                .collect(),
            ended: strike.ended.map(|(how, at)| EndAnswer {
                how,
                at,
                what: after(how),
            }),
            kite_in: strike.kite_in,
            then: ThenAnswer {
                position: then.position.map(|here| PositionAnswer {
                    latitude_deg: here.latitude_deg,
                    longitude_deg: here.longitude_deg,
                }),
                heading_deg_true: then.heading_rad.map(f64::to_degrees),
                speed_mps: then.speed_mps,
                true_wind: then.true_wind.map(|wind| TrueWindAnswer {
                    from_deg_true: wind.from_rad.to_degrees(),
                    speed_mps: wind.speed_mps,
                }),
                kite_line_out_m: strike.lines.kite_m,
                main_line_out_m: strike.lines.main_m,
                bait: strike.bait.map(|bait| bait.state),
                input_from: strike.at.plus_seconds(-BEFORE_S),
                recording: recorder.file.clone(),
            },
            fish: strike.fish_off_bow_rad.map(|(off_bow_rad, at)| FishAnswer {
                off_bow_deg: off_bow_rad.to_degrees(),
                bearing_deg_true: now.fish_bearing_rad.map(f64::to_degrees),
                at,
            }),
            hooked_drag_n: now.hooked_drag_n,
            kite,
            kite_unknown,
        }
    }
}

impl KiteInAnswer {
    fn new(found: &Recovery) -> Self {
        Self {
            verdict: found.verdict,
            heading_deg_true: found.heading_rad.to_degrees(),
            turn_deg: found.turn_rad.to_degrees(),
            way: found.way,
            way_clear: found.way_clear,
            clear_by_m: found.clear_by_m.is_finite().then_some(found.clear_by_m),
            nearest: found.nearest.clone(),
            kite_off_astern_deg: found.kite_off_astern_rad.to_degrees(),
            fish_off_bow_deg: found.fish_off_bow_rad.map(f64::to_degrees),
            drops_with_m: found.drops_with_m,
            last_metres_m: found.last_metres.as_ref().map(|(m, _)| *m),
            last_metres: found.last_metres.as_ref().map(|(_, what)| what.clone()),
            easiest_deg_true: found.easiest_rad.to_degrees(),
            winding: found.winding.clone(),
        }
    }
}
