//! One threat: a trouble foreseen or present, before it becomes an advisory.

use std::collections::BTreeMap;

use super::shape::{Action, Kind, Priority};
use crate::forecast::{TurnAhead, TurnSource};
use crate::time::Millis;
use crate::vessel::VesselNow;

/// The turn behind a threat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Behind {
    pub source: TurnSource,
    pub to_heading_deg: f64,
}

/// A heading this close to the turn's final heading means that the turn was made, not called off.
const TURN_MADE_DEG: f64 = 20.0;

impl From<TurnAhead> for Behind {
    fn from(turn: TurnAhead) -> Self {
        Self {
            source: turn.source,
            to_heading_deg: turn.to_heading_deg_true,
        }
    }
}

impl Behind {
    /// Whether the bow is where the turn led. Without a heading this is unknown and taken as true.
    pub fn made(&self, vessel: &VesselNow) -> bool {
        vessel
            .heading_true_rad
            .as_ref()
            .is_none_or(|heading| self.leads_to(heading.value.to_degrees()))
    }

    /// Whether it leads to about this heading.
    pub fn leads_to(&self, heading_deg: f64) -> bool {
        crate::angles::wrap_signed((heading_deg - self.to_heading_deg).to_radians())
            .to_degrees()
            .abs()
            < TURN_MADE_DEG
    }
}

/// Coarse cause of a threat: a reader would notice when it changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mover {
    /// A turn to come or under way.
    Turn,
    /// The turn just made.
    After,
    /// The wind has shifted.
    Shift,
    /// The wind and its gusts, with the trim as it is.
    Air,
    /// None: it is a fact.
    Fact,
}

/// One trouble foreseen or present.
#[derive(Debug, Clone)]
pub(super) struct Threat {
    pub kind: Kind,
    pub priority: Priority,
    /// `None`: it is so now.
    pub onset_at: Option<Millis>,
    /// 10th percentile of the onset; `None` without a band.
    pub early_at: Option<Millis>,
    /// Share of the futures in which it is so now.
    pub so_now: f64,
    pub chance: Option<f64>,
    /// The same with the plan that it asks for.
    pub chance_with_plan: Option<f64>,
    /// Whether the chance is one that raises such a threat: a lower one only keeps it.
    pub sure: bool,
    pub chance_basis: String,
    pub cause: String,
    /// When the turn behind it begins.
    pub turn_at: Option<Millis>,
    pub mover: Mover,
    pub actions: Vec<Action>,
    pub without_action: String,
    pub behind: Option<Behind>,
    /// When the crew reported seeing it.
    pub seen_at: Option<Millis>,
    /// What exactly it is about (which sensor, part, structure): another topic is news. The texts
    /// do not show that, because their numbers change all the time.
    pub topic: String,
}

impl Threat {
    /// A plain fact, without its texts.
    pub fn fact(kind: Kind, priority: Priority) -> Self {
        Self {
            kind,
            priority,
            onset_at: None,
            early_at: None,
            so_now: 0.0,
            chance: None,
            chance_with_plan: None,
            sure: true,
            chance_basis: "a fact, not a forecast".to_owned(),
            cause: String::new(),
            turn_at: None,
            mover: Mover::Fact,
            actions: Vec::new(),
            without_action: String::new(),
            behind: None,
            seen_at: None,
            topic: String::new(),
        }
    }
}

/// What the rules need to know about a living advisory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Alive {
    pub priority: Priority,
    pub mover: Mover,
    pub behind: Option<Behind>,
}

/// The living advisories by kind.
pub(super) type AliveByKind = BTreeMap<Kind, Alive>;
