//! `[locker]`: what is aboard besides the rig that flies.

use super::boat::BoatSettings;
use super::locker_keys::{OWN, REEL_OF};
use super::reader::Section;
use super::rig::{self, Reading, RigSettings};
use crate::forecast::ForecastSettings;
use crate::key::default_of;
use crate::locker::{Leader, Locker, NEWTONS_PER_LBF, Named, Reel, Spool, Tackle};
use crate::rig::{Kite, Rig, RigParameters};

/// `None` only after a complaint, here or in what it rests on.
pub(super) fn read(
    section: Section<'_>,
    rig: Option<&RigSettings>,
    boat: Option<&BoatSettings>,
    forecast: &ForecastSettings,
) -> Option<Locker> {
    // What is assumed of parts that do not fly needs no note.
    let mut reading = Reading::default();
    let tackle = tackle(&section);
    let kites = parts(&section, "kite", |part| {
        rig::kite(part, &mut reading).filter(|kite| rows_rise(part, kite))
    });
    let kite_lines = parts(&section, "kite_line", |part| {
        rig::kite_line(part, &mut reading)
    });
    let main_lines = parts(&section, "main_line", |part| {
        rig::main_line(part, &mut reading)
    });
    let markers = parts(&section, "marker", |part| rig::marker(part, &mut reading));
    let baits = parts(&section, "bait", |part| rig::bait(part, &mut reading));
    let leaders = parts(&section, "leader", |part| {
        let rated = part.needed_number("rated_lbf");
        let length = part.needed_number("length_m");
        Some(Leader {
            strength_n: rated? * NEWTONS_PER_LBF,
            length_m: length?,
        })
    });
    let bands = parts(&section, "band", |part| part.needed_number("strength_n"));
    let reels = parts(&section, "reel", reel);
    section.finish();
    let rig = rig?;
    Some(Locker {
        flown: rig.parameters.clone(),
        kite_line_out_m: rig.out_at_start.kite_m,
        wind_sensor_height_m: boat?.wind_sensor_height_m,
        overload_share: forecast.overload_share,
        release_share: forecast.release_share,
        kite_give_mps: forecast.hands.kite_give_m_per_s,
        main_give_mps: forecast.hands.give_m_per_s,
        tackle,
        kites,
        kite_lines,
        main_lines,
        leaders,
        bands,
        baits,
        markers,
        reels,
    })
}

/// The parts of a kind, each with a name of its own.
fn parts<T>(
    locker: &Section<'_>,
    kind: &str,
    mut read: impl FnMut(&Section<'_>) -> Option<T>,
) -> Vec<Named<T>> {
    let mut found: Vec<Named<T>> = Vec::new();
    for section in locker.sections(kind) {
        let name = section.needed_form("name").filter(|name| {
            let is_new = found.iter().all(|other| other.name != *name);
            if !is_new {
                section.complain("name", "is used twice", "give each part its own");
            }
            is_new
        });
        let part = read(&section);
        section.finish();
        if let (Some(name), Some(part)) = (name, part) {
            found.push(Named {
                name: name.to_owned(),
                part,
            });
        }
    }
    found
}

/// Whether the rows of coefficients rise with the wind, as the model needs them.
fn rows_rise(section: &Section<'_>, kite: &Kite) -> bool {
    let parameters = RigParameters {
        kite: kite.clone(),
        ..RigParameters::default()
    };
    let Err(errors) = Rig::new(&parameters) else {
        return true;
    };
    for error in errors {
        section.complain(
            error.key.trim_start_matches("kite."),
            format!("must be {}", error.allowed),
            "list the rows by rising wind",
        );
    }
    false
}

fn tackle(section: &Section<'_>) -> Tackle {
    let or = |key, default: f64| section.number(key).unwrap_or(default);
    let lbf = |key, default| or(key, default) * NEWTONS_PER_LBF;
    let mm = |key| section.number(key).map(|mm: f64| mm / 1e3);
    Tackle {
        strike_drag_n: lbf(
            "strike_drag_lbf",
            const { default_of(OWN, "strike_drag_lbf") },
        ),
        hooked_drag_n: lbf(
            "hooked_drag_lbf",
            const { default_of(OWN, "hooked_drag_lbf") },
        ),
        drag_share: or("drag_share", const { default_of(OWN, "drag_share") }),
        run_m: or("run_m", const { default_of(OWN, "run_m") }),
        ring_inner_m: mm("ring_inner_mm"),
        swivel_m: mm("swivel_mm"),
        nose_weight_kg: section.number("nose_weight_g").map(|g| g / 1e3),
    }
}

fn reel(section: &Section<'_>) -> Option<Reel> {
    const BOTH: &str =
        "give inner_mm, outer_mm and width_mm, or label_m and label_mm from its label";
    let of = section.needed_choice("line", &REEL_OF);
    let [inner, outer, width, label, label_of] =
        ["inner_mm", "outer_mm", "width_mm", "label_m", "label_mm"].map(|key| section.number(key));
    let spool = match (inner, outer, width) {
        (Some(inner), Some(outer), Some(width)) => {
            if inner >= outer {
                section.complain(
                    "inner_mm",
                    format!("must be below outer_mm ({outer})"),
                    "measure both again",
                );
            }
            Some(Spool::Sizes {
                inner_m: inner / 1e3,
                outer_m: outer / 1e3,
                width_m: width / 1e3,
            })
        }
        (None, None, None) => match (label, label_of) {
            (Some(length_m), Some(of)) => Some(Spool::Label {
                length_m,
                diameter_m: of / 1e3,
            }),
            _ => None,
        },
        _ => None,
    };
    let refused = ["inner_mm", "outer_mm", "width_mm", "label_m", "label_mm"]
        .iter()
        .zip([inner, outer, width, label, label_of])
        .any(|(key, value)| value.is_none() && !section.is_absent(key));
    if spool.is_none() && !refused {
        section.complain("", "says too little of its spool", BOTH);
    }
    Some(Reel {
        of: of?,
        spool: spool?,
    })
}
