//! Published values, properties, reference cases, recorded logs.
#![allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")]

mod advice;
mod advice_turns;
mod before;
mod beside;
mod danger;
mod decode_forms;
mod decode_logs;
mod decode_properties;
mod decode_published;
mod decode_words;
mod flood;
mod forecast;
mod forecast_scene;
mod framing;
mod learnt;
mod oddities;
mod plan_answers;
mod recorded_logs;
mod recording;
mod replay;
mod rig;
mod rig_mooring;
mod rig_reference;
mod score;
mod score_chances;
mod score_days;
mod score_scene;
mod settings;
mod settings_structures;
mod settings_table;
mod turn;
mod turn_helm;
mod vessel;
mod vessel_logs;
mod vessel_wind;
