//! A request for line is not turned round while hands are still at it.
//! In: the threats of a moment, then what is shown. Out: threats without a request that would turn
//! the last one round too soon.

use super::scene::Scene;
use super::shape::{Action, Advisory};
use super::threat::Threat;
use super::words;
use crate::angles::wrap_signed;
use crate::decode::Line;
use crate::forecast::TurnSource;
use crate::time::Millis;

/// A request stands for so long after it was last shown, unless there is news. Own judgement: to
/// move 3 to 5 m and to see what the bait then does.
const STANDS_S: f64 = 30.0;

/// Which line, and whether it is let out.
type Way = (Line, bool);

/// Announced turns that lead to headings nearer than this are one turn: what is announced as an
/// angle leads to a heading that wanders with the bow.
const SAME_TURN_DEG: f64 = 20.0;

/// What the crew has reported, and where announced turns lead.
#[derive(Debug, Clone)]
struct Known {
    reported: [Option<Millis>; 5],
    turns_to_deg: Vec<f64>,
}

impl Known {
    fn of(scene: &Scene<'_>) -> Self {
        let deck = scene.deck;
        let turns = scene.forecast.iter().flat_map(|forecast| forecast.turns());
        Self {
            reported: [
                deck.lines_at,
                deck.bait.map(|seen| seen.at),
                deck.elevation_rad.map(|(_, at)| at),
                deck.bearing_rad.map(|(_, at)| at),
                deck.marker_in_water.map(|(_, at)| at),
            ],
            turns_to_deg: turns
                .filter(|turn| turn.source != TurnSource::UnderWay)
                .map(|turn| turn.to_heading_deg_true)
                .collect(),
        }
    }

    /// Whether a report or an announced turn is new against what was known before.
    fn is_news(&self, before: &Self) -> bool {
        let same =
            |a: f64, b: f64| wrap_signed((a - b).to_radians()).abs().to_degrees() < SAME_TURN_DEG;
        let known = |to: &f64| before.turns_to_deg.iter().any(|old| same(*to, *old));
        self.reported != before.reported || !self.turns_to_deg.iter().all(known)
    }
}

/// The last request shown.
#[derive(Debug, Clone, Default)]
pub(super) struct Reversals {
    last: Option<(Way, Millis, Known)>,
}

fn way(action: &Action) -> Option<Way> {
    action.asks().map(|(line, by_m)| (line, by_m > 0.0))
}

fn first_way(actions: &[Action]) -> Option<Way> {
    actions.iter().find_map(way)
}

impl Reversals {
    /// Takes requests out that would turn the last one round.
    pub fn steady(&self, scene: &Scene<'_>, threats: &mut [Threat]) {
        let Some((last, shown_at, known)) = &self.last else {
            return;
        };
        if scene.at.seconds_since(*shown_at) >= STANDS_S || Known::of(scene).is_news(known) {
            return;
        }
        for threat in threats {
            if first_way(&threat.actions).is_some_and(|asked| asked != *last) {
                threat.actions.retain(|action| way(action).is_none());
                threat.actions.insert(0, Action::see(words::LOOK_FIRST));
            }
        }
    }

    /// Notes what is shown now, the most pressing advisory first.
    pub fn note(&mut self, scene: &Scene<'_>, living: &[Advisory]) {
        let shown = living
            .iter()
            .filter(|advisory| advisory.outcome.is_none())
            .find_map(|advisory| first_way(&advisory.actions));
        if let Some(asked) = shown {
            self.last = Some((asked, scene.at, Known::of(scene)));
        }
    }
}
