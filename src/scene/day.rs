//! The demo's day: twelve invented minutes with the events of a day's fishing. No place, boat or
//! person in it exists.

use super::play::SceneError;
use super::script::{Gusts, Instruments, Script, ScriptMove, ScriptTurn, Shift};
use crate::decode::{BaitState, CrewInput, Line};
use crate::rig::{Rig, RigParameters};
use crate::time::Millis;

/// Pace of practised hands with the main line, metres a second (invented).
const HANDS_MPS: f64 = 0.8;

/// A leg of the day: a turn, and how the crew responds.
struct Leg {
    start_s: f64,
    by_deg: f64,
    rate_deg_s: f64,
    /// How long before it the crew announces it; `None` for a turn that is not announced.
    announced_s: Option<f64>,
    /// How long after the helm goes over hands begin (negative: before it).
    hands_s: f64,
}

/// Toward the wind is to port on this day, away from it to starboard.
const LEGS: [Leg; 6] = [
    // A pass, told in good time and met by hands in good time.
    Leg {
        start_s: 38.0,
        by_deg: -60.0,
        rate_deg_s: 3.0,
        announced_s: Some(31.0),
        hands_s: -4.0,
    },
    // Back on course.
    Leg {
        start_s: 130.0,
        by_deg: 75.0,
        rate_deg_s: 3.0,
        announced_s: Some(20.0),
        hands_s: 8.0,
    },
    // Fish seen: the helm turns toward the wind without a word, hands are late, the bait flies.
    Leg {
        start_s: 305.0,
        by_deg: -60.0,
        rate_deg_s: 4.0,
        announced_s: None,
        hands_s: 22.0,
    },
    // A big turn away: everything sags.
    Leg {
        start_s: 470.0,
        by_deg: 85.0,
        rate_deg_s: 4.0,
        announced_s: Some(15.0),
        hands_s: 25.0,
    },
    // Small corrections of course while the fish is fought.
    Leg {
        start_s: 590.0,
        by_deg: -20.0,
        rate_deg_s: 2.0,
        announced_s: Some(20.0),
        hands_s: 0.0,
    },
    Leg {
        start_s: 660.0,
        by_deg: -20.0,
        rate_deg_s: 2.0,
        announced_s: Some(20.0),
        hands_s: -8.0,
    },
];

/// The day, beginning at `start`. The true rig is the believed one with a kite that pulls a
/// little better and a line that is a little thicker, so that the truth is not the model's guess.
///
/// # Errors
/// When the rig cannot be trimmed on one of the legs.
pub fn demo_day(start: Millis, believed: &RigParameters) -> Result<Script, SceneError> {
    let mut rig = believed.clone();
    rig.kite.cl *= 1.05;
    rig.main_line.diameter_m *= 1.04;

    let mut script = Script {
        start,
        duration_s: 720.0,
        seed: 8477,
        rig,
        wind: crate::rig::Wind {
            speed_10m_mps: 7.6,
            from_rad: 40.0_f64.to_radians(),
            shear_exponent: 0.11,
        },
        gusts: Gusts::OF_THE_DEMO,
        shifts: vec![
            Shift {
                start_s: 200.0,
                over_s: 40.0,
                by_rad: -14.0_f64.to_radians(),
                speed_factor: 1.12,
            },
            Shift {
                start_s: 400.0,
                over_s: 40.0,
                by_rad: 14.0_f64.to_radians(),
                speed_factor: 1.0 / 1.12,
            },
        ],
        waves: Vec::new(),
        current: crate::rig::Current {
            set_rad: 0.0,
            drift_mps: 0.2,
        },
        boat_speed_mps: 3.0,
        heading_rad: 130.0_f64.to_radians(),
        kite_line_m: 90.0,
        main_line_m: None,
        turns: LEGS
            .iter()
            .map(|leg| ScriptTurn {
                start_s: leg.start_s,
                by_rad: leg.by_deg.to_radians(),
                rate_rad_s: leg.rate_deg_s.to_radians(),
                yaw_time_s: 2.5,
                announced_s: leg.announced_s,
            })
            .collect(),
        moves: Vec::new(),
        says: Vec::new(),
        bait_reports_every_s: Some(45.0),
        instruments: Instruments::default(),
    };
    script.moves = hands(&script)?;
    script.says = vec![
        // A turn that is called off.
        (
            255.0,
            CrewInput::Turn {
                by: crate::units::degrees(-40.0),
                rate: crate::units::degrees_per_second(3.0),
                in_s: 25.0,
            },
        ),
        (272.0, CrewInput::CallOffTurn),
        (560.0, CrewInput::Bite),
        (585.0, CrewInput::Bait(BaitState::Skipping)),
    ];
    Ok(script)
}

/// What hands do: the line that the new heading (or wind) asks for.
fn hands(script: &Script) -> Result<Vec<ScriptMove>, SceneError> {
    let rig = Rig::new(&script.rig).map_err(SceneError::from_rig)?;
    let trimmed = |heading_rad: f64, at_s: f64| {
        script
            .trimmed_main_line_m(&rig, heading_rad, at_s, 0.25)
            .map_err(|none| SceneError::Start(none.to_string()))
    };
    let mut heading_rad = script.heading_rad;
    let mut out_m = trimmed(heading_rad, 0.0)?;
    let mut moves = Vec::new();
    for leg in &LEGS {
        heading_rad += leg.by_deg.to_radians();
        let wanted_m = trimmed(heading_rad, leg.start_s)?;
        // Crews count in whole steps of line.
        let by_m = (wanted_m - out_m).round();
        out_m += by_m;
        if by_m != 0.0 {
            moves.push(ScriptMove {
                start_s: leg.start_s + leg.hands_s,
                line: Line::Main,
                by_m,
                over_s: by_m.abs() / HANDS_MPS,
                told: true,
            });
        }
    }
    Ok(moves)
}
