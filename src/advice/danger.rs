//! Dangers to gear and people: loads near a strength, a line close to the boat. What the forecast
//! says of them, worded for hands and helm.

use super::gear::{Room, band, heaviest, nearest};
use super::scene::Scene;
use super::shape::Action;
use super::threat::Threat;
use super::words;
use crate::forecast::{Forecast, LoadAhead, TurnAhead};

/// Names the part that is loaded most, and what takes load off it.
pub(super) fn overload(
    threat: &mut Threat,
    forecast: &Forecast,
    turn: Option<&TurnAhead>,
) -> Option<()> {
    let heaviest = heaviest(forecast)?;
    name_part(threat, heaviest);
    let [helm, mate] = words::ease(heaviest.part, turn);
    threat.actions = vec![
        Action::see(helm),
        Action::see(mate),
        Action::see(words::UNDER_LOAD),
    ];
    Some(())
}

/// Names the load of the band. A dragging bait loads it, so the plan that keeps the bait skipping
/// comes first.
pub(super) fn release(threat: &mut Threat, forecast: &Forecast) -> Option<()> {
    name_part(threat, band(forecast)?);
    threat.actions.extend(words::EASE_BAND.map(Action::see));
    Some(())
}

fn name_part(threat: &mut Threat, load: &LoadAhead) {
    threat.topic = words::part(load.part).to_owned();
    threat.cause.push_str(&words::load(load));
}

/// Names the structure, and which way the helm keeps the lines clear of it.
pub(super) fn foul(
    threat: &mut Threat,
    scene: &Scene<'_>,
    forecast: &Forecast,
    turn: Option<&TurnAhead>,
) -> Option<()> {
    let nearest = nearest(forecast)?;
    threat.topic.clone_from(&nearest.structure);
    threat.cause.push_str(&words::near(nearest));
    let bow_deg = scene
        .vessel
        .heading_true_rad
        .as_ref()
        .map(|heading| heading.value.to_degrees());
    let room = Room::of(&forecast.fan, bow_deg);
    threat.actions = vec![Action::see(words::keep_clear(room, nearest, turn))];
    threat
        .actions
        .extend(words::OFF_THE_STRUCTURE.map(Action::see));
    Some(())
}
