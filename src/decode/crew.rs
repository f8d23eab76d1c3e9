//! What the crew says, and the sentence that carries it.

use super::geo::GeoPosition;
use super::talker::Talker;
use crate::units::{Angle, AngularVelocity, Length, Velocity};

/// One input of the crew.
#[derive(Debug, Clone, PartialEq)]
pub enum CrewInput {
    /// How much line is out now, as read from marks or counter. At least one is present.
    LinesOut {
        /// Kite line, rod tip to kite.
        kite: Option<Length>,
        /// Main line, rod tip through the ring to the bait.
        main: Option<Length>,
    },
    /// Line let out or wound in.
    Moved {
        /// Which line.
        line: Line,
        /// Positive let out, negative wound in.
        by: Length,
    },
    /// What the bait is seen to do.
    Bait(BaitState),
    /// Takes an earlier input back.
    Undo {
        /// Sequence number of that input.
        of: u32,
    },
    /// Kite elevation seen: angle of the kite line above the horizon at the kite rod.
    Elevation(Angle),
    /// Kite bearing seen: off the corner, from dead astern, positive to starboard.
    Bearing(Angle),
    /// Whether the marker lies in the water.
    MarkerInWater(bool),
    /// A turn the crew intends.
    Turn {
        /// Change of heading, positive to starboard.
        by: Angle,
        /// Rate of turn, always positive.
        rate: AngularVelocity,
        /// Seconds until it starts.
        in_s: f64,
    },
    /// The intended turn is called off.
    CallOffTurn,
    /// What became of the line that an advisory asked for.
    Plan {
        /// The answer.
        answer: PlanAnswer,
        /// The request that it answers; `None` (older recordings) for the one shown first at that
        /// moment.
        asked: Option<Asked>,
    },
    /// A fish has taken the bait.
    Bite,
    /// A step of a strike, or of the kite on its way home.
    Strike(StrikeWord),
    /// A place to fish.
    Mark(MarkSaid),
    /// What is said of a mark that is there.
    OfMark {
        /// Its number.
        number: u32,
        /// What.
        change: MarkChange,
    },
    /// What the crew says of a pass of the bait over a mark.
    Pass {
        /// Number of the mark.
        mark: u32,
        /// What.
        said: PassWord,
    },
    /// A source of the instruments is not to be used, or is again.
    Source {
        /// Its name: feed, talker and kind of sentence.
        name: String,
        /// Whether it is used.
        used: bool,
    },
    /// Somebody has seen an advisory.
    Acknowledge {
        /// Id of the advisory.
        advisory: String,
        /// How pressing it was then; `None` in older recordings.
        priority: Option<Priority>,
    },
    /// No alarm sound for some minutes.
    Silence {
        /// How long, in minutes; 0 ends a silence.
        minutes: f64,
    },
    /// Fishing starts or stops.
    Session(SessionMark),
    /// A launch, followed step by step.
    Launch(LaunchSaid),
    /// An instrument is to be corrected from now on.
    Correct(Correction),
    /// An instrument is not to be corrected any more.
    Uncorrect(Correctable),
    /// What was learnt of this kite is to be forgotten.
    Forget,
    /// A setting is changed while the program runs.
    Setting {
        /// Which, and what it is now.
        change: SettingChange,
        /// How many more belong to the same change: all take effect together with the last,
        /// for which this is 0.
        more: u32,
    },
    /// What was said before the program restarted, repeated by the program.
    Before {
        /// How long ago it was said, seconds; negative when the clock has been set back since.
        age_s: f64,
        /// Whether it still counts. If not, it is only shown, and the crew is asked for it.
        counts: bool,
        /// What was said: lines out, marker, turn, bite, strike, mark and its drift, correction,
        /// acknowledgement, silence, session or launch.
        input: Box<CrewInput>,
    },
}

/// Priority after IMO MSC.302(87): alarm, warning, caution.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    serde::Serialize,
    serde::Deserialize,
    utoipa::ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Priority {
    /// Out of the ordinary.
    Caution,
    /// Not yet dangerous, may become so.
    Warning,
    /// Needs attention and action at once.
    Alarm,
}

/// A place to fish, as it is marked.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkSaid {
    /// Its name.
    pub name: Option<String>,
    /// Where it is; `None` means here and now.
    pub position: Option<GeoPosition>,
    /// How the place is known.
    pub how: MarkHow,
    /// Its number; `None` for the next one that is free. Only a mark of before a restart brings its
    /// number along.
    pub number: Option<u32>,
}

/// How the place of a mark is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MarkHow {
    /// The boat was there.
    Here,
    /// It was seen so far away.
    ByEye {
        /// How far, as estimated.
        range: Length,
    },
    /// Its position was entered.
    Typed,
}

/// What is said of a mark.
#[derive(Debug, Clone, PartialEq)]
pub enum MarkChange {
    /// It is to go.
    Removed,
    /// Its name; `None` for none.
    Named(Option<String>),
    /// How it moves over the ground from now on; `None` when that is not known.
    Drifts(Option<SetAndDrift>),
}

/// How a mark moves over the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetAndDrift {
    /// Where to, clockwise from true north.
    pub set: Angle,
    /// How fast.
    pub drift: Velocity,
}

/// One key of the settings with its new value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SettingChange {
    /// Key with its sections, as `rig.kite.area_m2`.
    pub key: String,
    /// The value as plain text; `None` takes the key out, so that its default holds.
    pub value: Option<String>,
}

/// What can be corrected of the instruments.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    serde::Serialize,
    serde::Deserialize,
    utoipa::ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Correctable {
    /// Angle of the apparent wind.
    WindAngle,
    /// Speed of the apparent wind.
    WindSpeed,
    /// Speed through the water.
    Log,
    /// Heading.
    Compass,
    /// Rate of turn.
    RateOfTurn,
}

impl Correctable {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::WindAngle,
        Self::WindSpeed,
        Self::Log,
        Self::Compass,
        Self::RateOfTurn,
    ];
}

/// How the values of one instrument are to be corrected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correction {
    /// Talker of the sentences that it is for: another instrument has other errors.
    pub talker: Talker,
    /// What is done to each value.
    pub by: CorrectBy,
}

/// What a correction does to a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CorrectBy {
    /// Added to the angle of the apparent wind, clockwise.
    WindAngle(Angle),
    /// The speed of the apparent wind is multiplied by it.
    WindSpeed(f64),
    /// The speed through the water is multiplied by it.
    Log(f64),
    /// Added to the heading: `offset + sine * sin(h) + cosine * cos(h)`, where `h` is the heading
    /// as it is sent.
    Compass {
        /// Whatever the heading.
        offset: Angle,
        /// Its part with the sine of the heading.
        sine: Angle,
        /// Its part with the cosine of the heading.
        cosine: Angle,
    },
    /// Added to the rate of turn, positive to starboard.
    RateOfTurn(AngularVelocity),
}

impl CorrectBy {
    /// What it corrects.
    #[must_use]
    pub const fn what(&self) -> Correctable {
        match self {
            Self::WindAngle(_) => Correctable::WindAngle,
            Self::WindSpeed(_) => Correctable::WindSpeed,
            Self::Log(_) => Correctable::Log,
            Self::Compass { .. } => Correctable::Compass,
            Self::RateOfTurn(_) => Correctable::RateOfTurn,
        }
    }
}

/// One of the two lines of the rig.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    serde::Serialize,
    serde::Deserialize,
    utoipa::ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// The line that flies the kite.
    Kite,
    /// The line with the bait.
    Main,
}

/// What the bait does.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    serde::Serialize,
    serde::Deserialize,
    utoipa::ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum BaitState {
    /// Out of the water.
    Airborne,
    /// Touching the surface again and again.
    Skipping,
    /// Mostly under water.
    Dragging,
}

/// What an answer answers: the line that one revision of an advisory asked for, as it was shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Id of the advisory.
    pub advisory: String,
    /// Its revision.
    pub revision: u32,
    /// The line.
    pub line: Line,
    /// How much: positive to let out, negative to wind in.
    pub by: Length,
}

/// The crew's answer to a line plan.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, utoipa::ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum PlanAnswer {
    /// Done as shown.
    Done,
    /// Half of it done.
    Half,
    /// Something else was done.
    Other,
}

/// What the crew says while a fish is on or the kite comes home: a step that is done, or how it
/// ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StrikeWord {
    /// The kite is to come home, with no fish on.
    Home,
    /// The band is broken and the bait is in, so that the kite flies on its line alone.
    BaitIn,
    /// The marker has gone down to the water.
    MarkerDown,
    /// The main line is tight.
    Tight,
    /// The drag is at its hooked setting.
    DragSet,
    /// Where the fish is.
    Fish {
        /// Off the bow, positive to starboard.
        off_bow: Angle,
    },
    /// The boat is on the advised heading.
    Turned,
    /// The kite is in and secured.
    KiteIn,
    /// The angler has the rod.
    AnglerOn,
    /// Nothing was on: the lines are as they were.
    Missed,
    /// The fish is off the hook.
    FishOff,
    /// The line is cut or parted.
    CutOff,
    /// The fish is landed.
    Landed,
    /// The fish is let go.
    Released,
    /// The kite does not come home after all.
    StaysOut,
}

/// What the crew says of a pass.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, utoipa::ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum PassWord {
    /// It is to be planned for this mark.
    Ask,
    /// The helm steers it as planned.
    Accept,
    /// No pass over this mark.
    Decline,
    /// The pass that was accepted is over.
    End,
}

/// Start or stop of fishing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SessionMark {
    /// The rig goes out.
    Start,
    /// The rig is in.
    Stop,
}

/// What is said of a launch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LaunchSaid {
    /// It begins, kite and bait in, with the steps of this day.
    Begun(LaunchDay),
    /// So many of its steps are answered; a step back is one fewer.
    Answered {
        /// How many.
        steps: u32,
        /// Kite line out by then; `None` as before.
        kite: Option<Length>,
        /// Main line out by then; `None` as before.
        main: Option<Length>,
    },
    /// It is over: launched, or given up.
    Ended,
}

/// The day for which the steps of a launch are made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaunchDay {
    /// Mean true wind at 10 m.
    pub wind: Velocity,
    /// Gusts at 10 m.
    pub gust: Velocity,
    /// Boat through the water.
    pub speed: Velocity,
    /// True wind off the bow, 0 ahead, 180 degrees astern.
    pub off_bow: Angle,
    /// Kite line that is to be out at last.
    pub kite_line: Length,
}

impl CrewInput {
    /// The line that the crew has counted with it, kite and main.
    #[must_use]
    pub fn counted(&self) -> Option<(Option<Length>, Option<Length>)> {
        match self {
            Self::LinesOut { kite, main }
            | Self::Launch(LaunchSaid::Answered { kite, main, .. })
                if kite.is_some() || main.is_some() =>
            {
                Some((*kite, *main))
            }
            _ => None,
        }
    }
}
