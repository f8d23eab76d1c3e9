//! Settled states on all headings, from the typical particle, and the line that trims each as the crew does.

use super::plainly::plainly;
use crate::angles::wrap_signed;
use crate::forecast::filter::{Particle, off_astern_rad};
use crate::forecast::futures::{Ahead, clear_by_m};
use crate::forecast::shape::FanHeading;
use crate::rig::{Conditions, Current, MainLine, State, settled_state, steady};

/// Degrees between headings.
const STEP_DEG: i32 = 10;

/// The fan round the present heading.
pub fn fan(particle: &Particle, ahead: &Ahead<'_>) -> Vec<FanHeading> {
    let _span = tracing::trace_span!("fan").entered();
    let (Some(rig), Some(air), Some(lines)) = (&particle.rig, particle.air, particle.lines) else {
        return Vec::new();
    };
    let trimmed_at = MainLine::Immersion(particle.belief.trim_immersion(ahead.settings));
    let mut hint: [Option<State>; 2] = [None, None];
    (-180 / STEP_DEG + 1..=180 / STEP_DEG)
        .map(|i| {
            let turn_deg = f64::from(i * STEP_DEG);
            let heading = ahead.profile.heading_rad + turn_deg.to_radians();
            let conditions = Conditions {
                wind: air.mean,
                current: Current::default(),
                boat_speed_mps: ahead.speed_mps.max(0.0),
                heading_rad: wrap_signed(heading),
                kite_line_out_m: lines.kite_m,
            };
            let with_line = settled_state(
                rig,
                &conditions,
                MainLine::Out(lines.main_m),
                hint[0].as_ref(),
            )
            .ok();
            let trimmed = steady(rig, &conditions, trimmed_at, hint[1].as_ref());
            if let Some(found) = &with_line {
                hint[0] = Some(found.state.clone());
            }
            if let Ok(found) = &trimmed {
                hint[1] = Some(found.state.clone());
            }
            let picture = with_line
                .as_ref()
                .or(trimmed.as_ref().ok())
                .map(|found| &found.sample);
            let off_astern_deg = picture.map(|sample| off_astern_rad(sample).to_degrees());
            FanHeading {
                heading_deg_true: heading.to_degrees().rem_euclid(360.0),
                turn_deg,
                immersion: with_line.as_ref().map(|found| found.sample.immersion),
                kite_elevation_deg: picture.map(|s| s.kite_elevation_rad.to_degrees()),
                off_astern_deg,
                main_line_change_m: trimmed
                    .as_ref()
                    .ok()
                    .map(|found| found.main_line_m - lines.main_m),
                clear_by_m: picture.and_then(|sample| clear_by_m(ahead.structures, sample)),
                in_bite_zone: off_astern_deg.is_some_and(|off| ahead.settings.bite_zone.holds(off)),
                unfishable: trimmed.err().map(|why| plainly(&why).to_owned()),
            }
        })
        .collect()
}
