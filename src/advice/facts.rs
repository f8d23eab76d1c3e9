//! Facts rather than forecasts, from vessel and deck: silent sensors, unknown line out, no forecast,
//! a wind shift, a bait state seen while there is no forecast. Stateless.

use super::settings::AdviceSettings;
use super::shape::{Action, Kind, Priority};
use super::threat::{Alive, Mover, Scene, Threat, priority};
use super::words;
use crate::decode::Line;
use crate::forecast::{Forecast, Lack};
use crate::vessel::Missing;

/// With a turn sooner than this, line moves belong to the turn, not to the wind shift.
const TURN_AT_HAND_S: f64 = 30.0;

/// The crew sees it while there is no forecast.
pub(super) fn seen_without_forecast(kind: Kind) -> Threat {
    Threat {
        chance_basis: "seen by the crew; no forecast".to_owned(),
        cause: "seen by the crew".to_owned(),
        actions: vec![
            Action::See {
                what: words::bare_action(kind).to_owned(),
            },
            Action::See {
                what: words::HANDS.to_owned(),
            },
        ],
        without_action: "it stays so".to_owned(),
        ..Threat::fact(kind, Priority::Alarm)
    }
}

pub(super) fn wind_shift(
    scene: &Scene<'_>,
    forecast: &Forecast,
    settings: &AdviceSettings,
    living: &impl Fn(Kind) -> Option<Alive>,
) -> Option<Threat> {
    // With a turn at hand its plan decides about the lines.
    if forecast
        .turn
        .is_some_and(|turn| turn.starts_in_s < TURN_AT_HAND_S)
    {
        return None;
    }
    let ease = if living(Kind::WindShift).is_some() {
        0.6
    } else {
        1.0
    };
    let shift = scene.vessel.wind_statistics?.shift_rad.to_degrees();
    let ahead = forecast
        .fan
        .iter()
        .min_by(|a, b| a.turn_deg.abs().total_cmp(&b.turn_deg.abs()))?;
    let change_m = ahead.main_line_change_m?;
    if shift.abs() < ease * settings.wind_shift_deg
        || change_m.abs() < ease * settings.wind_shift_line_m
    {
        return None;
    }
    let by_m = change_m.round();
    let pace_m_per_s = forecast.hands.pace_m_per_s(Line::Main, by_m);
    Some(Threat {
        chance_basis: "measured wind; the line from the settled rig".to_owned(),
        cause: words::shift_cause(Kind::WindShift, shift),
        mover: Mover::Shift,
        actions: vec![
            Action::MoveLine {
                line: Line::Main,
                by_m,
                start_at: scene.at,
                over_s: by_m.abs() / pace_m_per_s,
                pace_m_per_s,
                cranks: forecast.hands.cranks(Line::Main, by_m),
            },
            Action::See {
                what: words::HANDS.to_owned(),
            },
        ],
        without_action: words::without_shift(change_m).to_owned(),
        ..Threat::fact(
            Kind::WindShift,
            priority(Kind::WindShift, 0.0, 1.0, settings),
        )
    })
}

pub(super) fn data_lost(scene: &Scene<'_>, settings: &AdviceSettings) -> Option<Threat> {
    let told: Vec<&Missing> = scene
        .vessel
        .missing
        .iter()
        .filter(|missing| match missing.last_heard {
            Some(heard) => scene.at.seconds_since(heard) >= settings.data_lost_s,
            None => scene.settled_in,
        })
        .collect();
    if told.is_empty() {
        return None;
    }
    Some(Threat {
        cause: told
            .iter()
            .map(|missing| missing.why.as_str())
            .collect::<Vec<_>>()
            .join("; "),
        actions: vec![Action::See {
            what: "check the instrument, its power and the network; steer and trim by eye"
                .to_owned(),
        }],
        without_action: "no forecast until it is back".to_owned(),
        topic: format!("{:?}", told.iter().map(|m| m.quantity).collect::<Vec<_>>()),
        ..Threat::fact(Kind::DataLost, priority(Kind::DataLost, 0.0, 1.0, settings))
    })
}

pub(super) fn rig_unset(scene: &Scene<'_>) -> Option<Threat> {
    let lines = &scene.deck.lines;
    let unset = match (lines.kite_m, lines.main_m) {
        (Some(_), Some(_)) => return None,
        (None, None) => "nobody has said how much kite line and main line are out",
        (None, Some(_)) => "nobody has said how much kite line is out",
        (Some(_), None) => "nobody has said how much main line is out",
    };
    // What was out before a restart is asked for at once.
    let restored = scene.deck.restored.as_ref();
    if !(scene.settled_in || restored.is_some()) || !scene.deck.fishing {
        return None;
    }
    let (cause, what) = match restored {
        Some(before) => (
            format!(
                "{unset} since a restart; before it, at {}: {}",
                before.as_of.of_day(scene.at),
                words::lines_out(&before.lines)
            ),
            "enter what is out now",
        ),
        None => (
            unset.to_owned(),
            "enter the line out, as near as you can tell",
        ),
    };
    Some(Threat {
        cause,
        actions: vec![Action::See {
            what: what.to_owned(),
        }],
        without_action: "no forecast until it is entered".to_owned(),
        topic: unset.to_owned(),
        ..Threat::fact(Kind::RigUnset, Priority::Caution)
    })
}

/// The computer is too slow for a forecast.
pub(super) fn computer_slow(scene: &Scene<'_>, settings: &AdviceSettings) -> Option<Threat> {
    let none = scene.forecast.err().filter(|none| none.is_too_slow())?;
    Some(Threat {
        cause: none.reasons.join("; "),
        actions: vec![Action::See {
            what: "steer and trim by eye; end what else runs on the computer, and see that it is \
                   not hot"
                .to_owned(),
        }],
        without_action: "no forecast until it keeps up".to_owned(),
        ..Threat::fact(
            Kind::ComputerSlow,
            priority(Kind::ComputerSlow, 0.0, 1.0, settings),
        )
    })
}

/// Why nothing is foreseen, where no other advisory says so and the crew does not want it so.
pub(super) fn no_forecast(scene: &Scene<'_>, settings: &AdviceSettings) -> Option<Threat> {
    let none = scene.forecast.err()?;
    if !scene.settled_in || none.is_intended() || scene.blind_s < settings.lost_after_s {
        return None;
    }
    let untold: Vec<(Lack, &str)> = none
        .told()
        .filter(|(lack, _)| {
            matches!(
                lack,
                Lack::Reading | Lack::Rig | Lack::ShortLine | Lack::Balance
            )
        })
        .collect();
    if untold.is_empty() {
        return None;
    }
    let mut lacks: Vec<Lack> = untold.iter().map(|(lack, _)| *lack).collect();
    lacks.dedup();
    let cures = lacks.iter().map(|lack| words::cure(*lack));
    Some(Threat {
        cause: untold
            .iter()
            .map(|(_, words)| *words)
            .collect::<Vec<_>>()
            .join("; "),
        actions: cures
            .chain([words::BY_EYE])
            .map(|what| Action::See {
                what: what.to_owned(),
            })
            .collect(),
        without_action: "no forecast until it is cured".to_owned(),
        topic: format!("{lacks:?}"),
        ..Threat::fact(
            Kind::NoForecast,
            if scene.in_trouble {
                Priority::Warning
            } else {
                priority(Kind::NoForecast, 0.0, 1.0, settings)
            },
        )
    })
}

/// Line out is taken as it was before a restart.
pub(super) fn lines_unchecked(scene: &Scene<'_>) -> Option<Threat> {
    let restored = scene.deck.restored.as_ref().filter(|before| before.used)?;
    let lines = words::lines_out(&restored.lines);
    Some(Threat {
        cause: format!(
            "{lines} as of {}, before a restart",
            restored.as_of.of_day(scene.at)
        ),
        actions: vec![Action::See {
            what: "check the lines: say that they are still right, or enter what is out now"
                .to_owned(),
        }],
        without_action: "the forecast rests on a count that may be wrong by now".to_owned(),
        topic: lines,
        ..Threat::fact(Kind::LinesUnchecked, Priority::Caution)
    })
}
