//! Recorded days of other boats through framer, decoder and vessel. They lie beside the project,
//! not in it; where they are absent the tests are skipped.

use std::path::Path;

use skimwatch::angles::{wrap_positive, wrap_signed};
use skimwatch::decode::{Decoder, Observation};
use skimwatch::feed::{ChecksumPolicy, Frame, FrameSettings};
use skimwatch::record::LogReader;
use skimwatch::time::Millis;
use skimwatch::vessel::{Sender, Vessel, VesselNow, VesselSettings};

use crate::beside::beside;

/// Feeds a whole log to a vessel; most logs have no arrival times, so a second passes whenever the
/// time of day in the sentences changes (or else after 20 sentences). Looks after every observation
/// that is `wanted`.
fn follow(
    path: &Path,
    mut wanted: impl FnMut(&Observation) -> bool,
    mut look: impl FnMut(&VesselNow, &Observation),
) -> usize {
    let mut observations = 0;
    follow_vessel(path, Observation::clone, |vessel, now, observation| {
        observations += 1;
        if wanted(observation) {
            look(&vessel.now(now), observation);
        }
    });
    observations
}

/// The same with each observation changed before the vessel hears it, for whoever looks into the
/// vessel itself.
pub(crate) fn follow_vessel(
    path: &Path,
    mut change: impl FnMut(&Observation) -> Observation,
    mut look: impl FnMut(&Vessel, Millis, &Observation),
) {
    let settings = FrameSettings {
        checksum: ChecksumPolicy::IfPresent,
        ..FrameSettings::default()
    };
    let mut vessel = Vessel::new(VesselSettings::default());
    let mut decoder = Decoder::new();
    let mut now = Millis(1_700_000_000_000);
    let (mut clock, mut since) = (None, 0);
    for item in LogReader::open(path, settings).unwrap() {
        let Frame::Sentence(sentence) = item.unwrap().frame else {
            continue;
        };
        let Ok(decoded) = decoder.decode(&sentence.text) else {
            continue;
        };
        for observation in &decoded.observations {
            if let Observation::Utc { time, .. } = observation
                && clock != Some(*time)
            {
                clock = Some(*time);
                now = now.plus_seconds(1.0);
                since = 0;
            }
            let talker = decoded.talker.as_str();
            vessel.observe(
                now,
                Sender::on_line("log", talker, decoded.kind),
                &change(observation),
            );
            look(&vessel, now, observation);
        }
        since += 1;
        if since > 20 {
            now = now.plus_seconds(1.0);
            since = 0;
        }
    }
}

fn assert_sound(now: &VesselNow) {
    let turn = 0.0..std::f64::consts::TAU;
    let fresh = |at: Millis| at <= now.at;
    if let Some(heading) = &now.heading_true_rad {
        assert!(turn.contains(&heading.value) && fresh(heading.at));
    }
    if let Some(wind) = &now.apparent_wind {
        assert!(turn.contains(&wind.value.angle_rad) && fresh(wind.at));
        assert!((0.0..100.0).contains(&wind.value.speed_mps));
    }
    if let Some(wind) = &now.true_wind {
        assert!(turn.contains(&wind.value.from_rad) && fresh(wind.at));
        assert!((0.0..150.0).contains(&wind.value.speed_mps));
    }
    if let Some(rate) = &now.rate_of_turn_rad_s {
        assert!(rate.value.is_finite() && fresh(rate.at));
    }
    if let Some(s) = &now.wind_statistics {
        assert!(s.speed_sd_mps.is_finite() && s.direction_sd_rad.is_finite());
        assert!(s.gust_mps.is_finite() && s.shift_rad.is_finite());
        assert!((1.0..=600.0).contains(&s.gust_time_s));
        assert!(s.window_s <= 600.0 && turn.contains(&s.mean_from_rad));
    }
}

#[test]
fn every_recorded_log_gives_sound_values_or_none() {
    let Some(logs) = beside("nmea-logs") else {
        return;
    };
    let mut files: Vec<_> = std::fs::read_dir(logs)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e != "md"))
        .collect();
    files.sort();
    assert!(!files.is_empty());
    for path in files {
        let (mut looks, mut with_wind, mut sources) = (0, 0, std::collections::BTreeSet::new());
        let mut count = 0;
        let every_twentieth = |_: &Observation| {
            count += 1;
            count % 20 == 0
        };
        let observations = follow(&path, every_twentieth, |now, _| {
            looks += 1;
            assert_sound(now);
            if let Some(wind) = &now.true_wind {
                with_wind += 1;
                sources.insert(wind.source.clone());
            } else {
                sources.extend(
                    now.missing
                        .iter()
                        .map(|m| format!("{:?} missing", m.quantity)),
                );
            }
        });
        println!(
            "{}: {observations} observations, true wind in {} %",
            path.file_name().unwrap_or_default().to_string_lossy(),
            100 * with_wind / looks.max(1)
        );
        for source in sources.iter().take(8) {
            println!("    {source}");
        }
    }
}

/// Three sailing boats whose own instruments worked out the true wind (MWV T). Ours, from their
/// MWV R, heading and log, must agree with theirs: an independent reckoning of the same triangle.
/// They smooth and sample in their own way, so the middle of the differences counts.
#[test]
fn our_true_wind_agrees_with_the_instruments_own() {
    let Some(logs) = beside("nmea-logs") else {
        return;
    };
    for (file, angle_limit_deg, speed_limit_mps) in [
        ("sail-lake-turns.nmea", 3.0, 0.3),
        ("sail-coast-2014.nmea", 3.0, 0.3),
        ("sail-race-2008.nmea", 3.0, 0.3),
    ] {
        let (mut angles, mut speeds) = (Vec::new(), Vec::new());
        let theoretical = |o: &Observation| matches!(o, Observation::TheoreticalWind { .. });
        follow(&logs.join(file), theoretical, |now, observation| {
            if let Observation::TheoreticalWind {
                angle: Some(angle),
                speed: Some(speed),
            } = observation
                && let (Some(ours), Some(heading)) = (&now.true_wind, &now.heading_true_rad)
                && skimwatch::units::in_metres_per_second(*speed) > 2.0
                && ours.source.contains("MWV")
                && !ours.source.contains("over ground")
            {
                let theirs = skimwatch::units::in_radians(*angle);
                let angle = wrap_positive(ours.value.from_rad - heading.value);
                angles.push(wrap_signed(angle - theirs).to_degrees());
                speeds.push(ours.value.speed_mps - skimwatch::units::in_metres_per_second(*speed));
            }
        });
        let middle = |values: &mut Vec<f64>| {
            values.sort_by(f64::total_cmp);
            (
                values[values.len() / 10],
                values[values.len() / 2],
                values[values.len() * 9 / 10],
            )
        };
        let (count, angle, speed) = (angles.len(), middle(&mut angles), middle(&mut speeds));
        println!(
            "{file}: {count} pairs; angle 10/50/90 %: {:.1} {:.1} {:.1} deg; speed {:.2} {:.2} {:.2} m/s",
            angle.0, angle.1, angle.2, speed.0, speed.1, speed.2
        );
        assert!(count > 100, "{file}");
        assert!(angle.1.abs() < angle_limit_deg, "{file}");
        assert!(speed.1.abs() < speed_limit_mps, "{file}");
    }
}
