//! Turns that the boat made, from thinned states. Pure.
//!
//! A turn is a run of states with headings that change one way, from each to the next by half a degree a
//! second or more and no more than 20 s apart, and by 30 degrees or more together. States are kept every
//! 10 degrees, so begin and end are known to some seconds, the angle to about 10 degrees.

use super::rows::State;
use crate::angles::wrap_signed_deg;
use crate::time::Millis;

const LEAST_DEG_S: f64 = 0.5;
const LEAST_DEG: f64 = 30.0;
const APART_S: f64 = 20.0;

/// A turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turned {
    pub from: Millis,
    pub to: Millis,
    /// + to starboard.
    pub by_deg: f64,
}

/// The turns of one session, in order.
pub(super) fn turned(states: &[State]) -> Vec<Turned> {
    let mut turns: Vec<Turned> = Vec::new();
    let mut running = false;
    for pair in states.windows(2) {
        let [state, next] = pair else { continue };
        let step = step(state, next);
        match (step, turns.last_mut()) {
            (Some(by_deg), Some(turn)) if running && by_deg * turn.by_deg > 0.0 => {
                turn.to = next.at;
                turn.by_deg += by_deg;
            }
            (Some(by_deg), _) => turns.push(Turned {
                from: state.at,
                to: next.at,
                by_deg,
            }),
            (None, _) => {}
        }
        running = step.is_some();
    }
    turns.retain(|turn| turn.by_deg.abs() >= LEAST_DEG);
    turns
}

/// How far the boat turned between two states, if she turned.
fn step(state: &State, next: &State) -> Option<f64> {
    let by_deg = wrap_signed_deg(next.heading_deg_true? - state.heading_deg_true?);
    let in_s = next.at.seconds_since(state.at);
    (in_s > 0.0 && in_s <= APART_S && by_deg.abs() / in_s >= LEAST_DEG_S).then_some(by_deg)
}

#[cfg(test)]
mod tests {
    use super::super::rows::Doing;
    use super::*;

    fn state(at_s: f64, heading_deg: f64) -> State {
        State {
            at: Millis(0).plus_seconds(at_s),
            latitude_deg: None,
            longitude_deg: None,
            heading_deg_true: Some(heading_deg),
            rate_of_turn_deg_s: None,
            speed_water_mps: None,
            speed_ground_mps: None,
            course_deg_true: None,
            wind_at_sensor_mps: None,
            wind_from_deg_true: None,
            kite_line_m: None,
            main_line_m: None,
            doing: Doing::Fishing,
            bait: None,
            bait_told: None,
            kite_elevation_deg: None,
            kite_off_astern_deg: None,
            immersion: None,
            bait_astern_m: None,
            bait_starboard_m: None,
        }
    }

    #[test]
    fn a_turn_is_found_and_a_yaw_is_none() {
        let states = [
            state(0.0, 350.0),
            state(15.0, 352.0),
            // 60 degrees to starboard in 16 s, over north.
            state(20.0, 2.0),
            state(24.0, 22.0),
            state(31.0, 52.0),
            // A yaw of 15 degrees.
            state(36.0, 67.0),
            state(51.0, 66.0),
            state(56.0, 51.0),
            // To port, and the end is not seen for a while.
            state(58.0, 30.0),
            state(61.0, 355.0),
            state(90.0, 300.0),
        ];
        let turns = turned(&states);
        let told: Vec<_> = turns.iter().map(|t| (t.from.0, t.to.0, t.by_deg)).collect();
        assert_eq!(
            told,
            [(15_000, 36_000, 75.0), (51_000, 61_000, -71.0)],
            "the yaw lies at the end of the turn"
        );
    }
}
