//! Headings of recorded and invented boats, with several kinds of sensors, and what is true of them.
//!
//! The truth is the heading as recorded, unwrapped, interpolated to 10 Hz and smoothed with a Hann
//! window of 5 s. Definitions, all invented:
//!
//! - *Steady*: the truth stays within 15 degrees from 20 s before to 40 s after.
//! - *False*: a turn begins to be seen under way, and the truth comes nowhere in the next 40 s as
//!   far as 15 degrees, in the direction seen, from its mean over 5 to 15 s before.
//! - *Turn*: the truth turns one way by 30 degrees and more, never for longer than 3 s more slowly
//!   than 98 % of the steady moments show. *Helm over* is where that begins.

use std::path::{Path, PathBuf};

use chrono::Timelike as _;
use skimwatch::decode::{Decoder, HeadingObservation, Observation};
use skimwatch::feed::{ChecksumPolicy, Frame, FrameSettings};
use skimwatch::record::LogReader;
use skimwatch::units::{degrees, degrees_per_second};
use skimwatch::vessel::{Sender, Vessel, VesselSettings};

use crate::beside::beside;
use crate::forecast_scene::at as moment;

pub const FINE_S: f64 = 0.1;

/// A log beside the project and how many headings a second it has, where it does not say when they
/// came.
pub struct Log {
    folder: &'static str,
    pub name: &'static str,
    pub headings_hz: f64,
    pub tuned: bool,
}

const fn log(folder: &'static str, name: &'static str, headings_hz: f64) -> Log {
    Log {
        folder,
        name,
        headings_hz,
        tuned: false,
    }
}

pub const LOGS: [Log; 10] = [
    Log {
        tuned: true,
        ..log("real-days", "lake-full.nmea", 1.0)
    },
    log("real-days", "bay_00.instruments.nmea", 1.0),
    log("real-days", "bay_01.instruments.nmea", 1.0),
    log("nmea-logs", "sail-race-2008.nmea", 1.0),
    log("nmea-logs", "sail-coast-2014.nmea", 1.0),
    log("nmea-logs", "sail-compass-swing.nmea", 1.0),
    log("nmea-logs", "motor-ais-route.nmea", 1.0),
    log("nmea-logs", "ship-gyro.log", 5.0),
    log("nmea-logs", "ship-heading.log", 1.0),
    log("nmea-logs", "plotter-2min.nmea", 10.0),
];

impl Log {
    /// Where it lies; `None`, said aloud, where it is absent.
    pub fn path(&self) -> Option<PathBuf> {
        Some(beside(self.folder)?.join(self.name))
    }
}

/// What the compass of a boat sends.
#[derive(Debug, Clone, Copy)]
pub enum Sensor {
    /// What the log has.
    Recorded,
    /// Whole degrees once a second.
    WholeDegrees,
    /// Tenths of a degree at 10 Hz, with the noise of a good compass.
    Tenths,
    /// As recorded, and a rate of turn at 10 Hz.
    WithRate,
}

pub const SENSORS: [Sensor; 4] = [
    Sensor::Recorded,
    Sensor::WholeDegrees,
    Sensor::Tenths,
    Sensor::WithRate,
];

/// Noise of the invented sensors, standard deviations.
const HEADING_NOISE_DEG: f64 = 0.2;
const RATE_NOISE_DEG_S: f64 = 0.5;

/// Observations with the second they came, and the heading as the vessel believes it.
pub struct Recording {
    observations: Vec<(f64, String, &'static str, Observation)>,
    pub headings: Vec<(f64, f64)>,
}

pub fn read(path: &Path, headings_hz: f64) -> Recording {
    let settings = FrameSettings {
        checksum: ChecksumPolicy::IfPresent,
        ..FrameSettings::default()
    };
    let mut decoder = Decoder::new();
    let mut vessel = Vessel::new(VesselSettings::default());
    let (mut now, mut first, mut timed) = (0.0, None, false);
    // Time of day less our time.
    let mut ahead_s = None;
    let mut recording = Recording {
        observations: Vec::new(),
        headings: Vec::new(),
    };
    for item in LogReader::open(path, settings).unwrap() {
        let item = item.unwrap();
        if let Some(time) = item.time {
            timed = true;
            now = time.seconds_since(*first.get_or_insert(time));
        }
        let Frame::Sentence(sentence) = item.frame else {
            continue;
        };
        let Ok(decoded) = decoder.decode(&sentence.text) else {
            continue;
        };
        if !timed
            && decoded
                .observations
                .iter()
                .any(|o| matches!(o, Observation::Heading(_)))
            && decoded.kind != "VHW"
        {
            now += 1.0 / headings_hz;
        }
        for observation in decoded.observations {
            if let Observation::Utc { time, .. } = observation
                && !timed
            {
                let day_s = f64::from(time.num_seconds_from_midnight());
                let gap_s = day_s - *ahead_s.get_or_insert(day_s - now) - now;
                if (3.0..3600.0).contains(&gap_s) {
                    now += gap_s;
                }
            }
            let talker = decoded.talker.as_str();
            let at = moment(now);
            vessel.observe(
                at,
                Sender::on_line("log", talker, decoded.kind),
                &observation,
            );
            if matches!(observation, Observation::Heading(_))
                && let Some(heading) = vessel.now(at).heading_true_rad
                && heading.at == at
            {
                recording.headings.push((now, heading.value.to_degrees()));
            }
            recording
                .observations
                .push((now, talker.to_owned(), decoded.kind, observation));
        }
    }
    recording
}

fn wrap_deg(deg: f64) -> f64 {
    (deg + 180.0).rem_euclid(360.0) - 180.0
}

/// A continuous stretch of heading at 10 Hz.
pub struct Truth {
    pub from_s: f64,
    heading_deg: Vec<f64>,
    pub rate_deg_s: Vec<f64>,
}

/// Smooths with a Hann window of `2 half + 1` samples.
fn hann(values: &[f64], half: usize) -> Vec<f64> {
    (0..values.len())
        .map(|i| {
            let (mut sum, mut weights) = (0.0, 0.0);
            let (from, to) = (i.saturating_sub(half), i + half + 1);
            for (j, value) in values.iter().enumerate().take(to).skip(from) {
                let x = (j as f64 - i as f64) / (half as f64 + 1.0);
                let weight = 0.5 + 0.5 * (std::f64::consts::PI * x).cos();
                sum += weight * value;
                weights += weight;
            }
            sum / weights
        })
        .collect()
}

/// The truth, in stretches without a gap of more than 5 s.
pub fn truths(headings: &[(f64, f64)], half: usize) -> Vec<Truth> {
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    for &(t, deg) in headings {
        let last = runs.last().and_then(|run| run.last()).copied();
        match last {
            Some((before, known)) if t - before <= 5.0 => {
                let run = runs.last_mut().unwrap();
                let next = (t, known + wrap_deg(deg - known));
                if t - before < 1e-6 {
                    run.pop();
                }
                run.push(next);
            }
            _ => runs.push(vec![(t, deg)]),
        }
    }
    runs.into_iter()
        .filter(|run| run[run.len() - 1].0 - run[0].0 > 90.0)
        .map(|run| {
            let from_s = run[0].0;
            let count = ((run[run.len() - 1].0 - from_s) / FINE_S) as usize;
            let mut place = 0;
            let raw: Vec<f64> = (0..count)
                .map(|i| {
                    let t = from_s + i as f64 * FINE_S;
                    while run[place + 1].0 < t {
                        place += 1;
                    }
                    let ((t0, a), (t1, b)) = (run[place], run[place + 1]);
                    a + (b - a) * (t - t0) / (t1 - t0)
                })
                .collect();
            let heading_deg = hann(&raw, half);
            let rate_deg_s = (0..count)
                .map(|i| {
                    let (a, b) = (i.saturating_sub(1), (i + 1).min(count - 1));
                    (heading_deg[b] - heading_deg[a]) / ((b - a) as f64 * FINE_S)
                })
                .collect();
            Truth {
                from_s,
                heading_deg,
                rate_deg_s,
            }
        })
        .collect()
}

impl Truth {
    pub fn index(&self, t_s: f64) -> usize {
        ((t_s - self.from_s) / FINE_S).max(0.0) as usize
    }

    fn part(&self, from_s: f64, to_s: f64) -> &[f64] {
        let n = self.heading_deg.len();
        &self.heading_deg[self.index(from_s).min(n)..self.index(to_s).min(n)]
    }

    pub fn to_s(&self) -> f64 {
        self.from_s + self.heading_deg.len() as f64 * FINE_S
    }

    pub fn is_steady(&self, t_s: f64) -> bool {
        let part = self.part(t_s - 20.0, t_s + 40.0);
        let (least, most) = part
            .iter()
            .fold((f64::MAX, f64::MIN), |(a, b), h| (a.min(*h), b.max(*h)));
        most - least < 15.0
    }

    /// Whether a turn to that side, seen at this moment, is none.
    pub fn is_false(&self, t_s: f64, side: f64) -> bool {
        let before = self.part(t_s - 15.0, t_s - 5.0);
        let mean = before.iter().sum::<f64>() / before.len().max(1) as f64;
        !self
            .part(t_s - 5.0, t_s + 40.0)
            .iter()
            .any(|h| side * (h - mean) >= 15.0)
    }

    /// Moments that are judged, and whether they are steady, every 0.5 s.
    pub fn moments(&self) -> Vec<(f64, bool)> {
        let mut moments = Vec::new();
        let mut t = self.from_s + 60.0;
        while t < self.to_s() - 40.0 {
            moments.push((t, self.is_steady(t)));
            t += 0.5;
        }
        moments
    }

    /// The change to that side that comes from this moment on, until the truth goes back by 4
    /// degrees, gains nothing in 8 s, or a minute is over.
    pub fn still_comes(&self, t_s: f64, side: f64) -> f64 {
        let part = self.part(t_s, t_s + 60.0);
        let (mut most, mut since) = (0.0, 0.0);
        for h in part {
            let change = side * (h - part[0]);
            if change > most {
                (most, since) = (change, 0.0);
            }
            since += FINE_S;
            if change < most - 4.0 || since > 8.0 {
                break;
            }
        }
        most
    }

    /// Turns of 30 degrees and more: helm over, end, change.
    pub fn turns(&self, still_deg_s: f64) -> Vec<(f64, f64, f64)> {
        let mut turns = Vec::new();
        for side in [1.0, -1.0] {
            let mut run: Option<(usize, usize)> = None;
            for (i, rate) in self.rate_deg_s.iter().enumerate() {
                if side * rate > still_deg_s {
                    run = Some((run.map_or(i, |(a, _)| a), i));
                }
                let over = run.filter(|(_, b)| i - b > 30 || i + 1 == self.rate_deg_s.len());
                if let Some((a, b)) = over {
                    let by = self.heading_deg[b] - self.heading_deg[a];
                    let start_s = self.from_s + a as f64 * FINE_S;
                    let first = self.from_s + 60.0;
                    if side * by >= 30.0 && start_s > first && start_s < self.to_s() - 40.0 {
                        turns.push((start_s, self.from_s + b as f64 * FINE_S, by));
                    }
                    run = None;
                }
            }
        }
        turns.sort_by(|a, b| a.0.total_cmp(&b.0));
        turns
    }
}

/// Uniform numbers in 0..1 that are the same everywhere.
struct Dice(u64);

impl Dice {
    fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// What the vessel hears with that sensor.
pub fn heard(recording: &Recording, sensor: Sensor) -> Vec<(f64, Observation)> {
    let mut dice = Dice(7);
    let heading = |deg: f64| {
        Observation::Heading(HeadingObservation::True {
            heading: degrees(deg.rem_euclid(360.0)),
        })
    };
    let steering = |o: &Observation| {
        matches!(
            o,
            Observation::WaterSpeed { .. }
                | Observation::SpeedOverGround(_)
                | Observation::Rudder(_)
        )
    };
    let mut out: Vec<(f64, Observation)> = recording
        .observations
        .iter()
        .filter(|(.., o)| steering(o))
        .map(|(t, .., o)| (*t, o.clone()))
        .collect();
    match sensor {
        Sensor::Recorded => {
            out.extend(
                recording
                    .headings
                    .iter()
                    .map(|(t, deg)| (*t, heading(*deg))),
            );
        }
        Sensor::WholeDegrees => {
            let mut last = f64::MIN;
            for (t, deg) in &recording.headings {
                if t - last > 0.95 {
                    out.push((*t, heading(deg.round())));
                    last = *t;
                }
            }
        }
        Sensor::Tenths | Sensor::WithRate => {
            let rates = matches!(sensor, Sensor::WithRate);
            if rates {
                out.extend(
                    recording
                        .headings
                        .iter()
                        .map(|(t, deg)| (*t, heading(*deg))),
                );
            }
            for truth in truths(&recording.headings, 15) {
                for (i, deg) in truth.heading_deg.iter().enumerate() {
                    let t = truth.from_s + i as f64 * FINE_S;
                    if rates {
                        let rate = truth.rate_deg_s[i] + RATE_NOISE_DEG_S * dice.normal();
                        out.push((t, Observation::RateOfTurn(degrees_per_second(rate))));
                    } else {
                        let read = deg + HEADING_NOISE_DEG * dice.normal();
                        out.push((t, heading((10.0 * read).round() / 10.0)));
                    }
                }
            }
        }
    }
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    out
}

/// Headings of an invented boat: wander of a first-order kind with that standard deviation, and
/// every five minutes a change of course under Nomoto's model, to either side in turn, of the sizes
/// given.
pub fn invented(hours: f64, wander_deg: f64, sizes_deg: &[f64]) -> Recording {
    let mut dice = Dice(11);
    let (mut wander, mut swing) = (0.0, 0.0);
    let (mut course, mut rate, mut target) = (0.0f64, 0.0, 0.0);
    let (mut turn, mut side) = (0, 1.0);
    let mut headings = Vec::new();
    for i in 0..(hours * 36_000.0) as usize {
        let t = i as f64 * FINE_S;
        // Helm and waves: two means of noise, 6 s and 2 s long.
        swing += FINE_S / 2.0 * (dice.normal() - swing);
        wander += FINE_S / 6.0 * (wander_deg * 13.0 * swing - wander);
        if i % 3000 == 2999 && !sizes_deg.is_empty() {
            target += side * sizes_deg[turn % sizes_deg.len()];
            side = -side;
            turn += 1;
        }
        // 4 deg/s until the swing with the helm back, 2 s, covers the rest.
        let left: f64 = target - course;
        let over = if left.abs() > rate_left(rate) {
            4.0 * left.signum()
        } else {
            0.0
        };
        rate += FINE_S / 2.0 * (over - rate);
        course += FINE_S * rate;
        headings.push((t, (course + wander).rem_euclid(360.0)));
    }
    Recording {
        observations: Vec::new(),
        headings,
    }
}

fn rate_left(rate_deg_s: f64) -> f64 {
    2.0 * rate_deg_s.abs()
}
