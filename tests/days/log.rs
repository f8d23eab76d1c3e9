//! A recorded log as sentences with times, and as true heading, speed through the water and true
//! wind over the water, ten times a second and smoothed.
//!
//! Times come from the log (TAG blocks, ISO prefixes); without any, from the clock in its sentences:
//! a sentence with a new second begins that second, and those after it are spread evenly up to the
//! next one. Heading (HDT, THS, HDG, HDM; the first kind found) is taken as true: only angles
//! between heading and wind matter. Smoothing is with a Hann window: heading 3.1 s, speed (VHW)
//! 6.1 s, relative wind (MWV) as a vector 3.1 s; turned by the heading and with the boat's speed
//! added, 4.1 s again. No current and no leeway.

use std::path::Path;

use chrono::Timelike as _;
use skimwatch::angles::wrap_signed;
use skimwatch::decode::{Decoder, HeadingObservation, Observation};
use skimwatch::feed::{Frame, FrameSettings, RawSentence};
use skimwatch::record::LogReader;
use skimwatch::units::{in_metres_per_second, in_radians};

/// Moments a second.
pub const HZ: f64 = 10.0;
/// Longer silences of one of the three quantities are gaps.
const GAP_S: f64 = 5.0;
const DAY_S: f64 = 86_400.0;
/// The clock of a log may step forward by so much; a longer step, or one back, ends a part.
const STEP_S: f64 = 600.0;

/// The boat at one moment.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    /// Not wrapped: it counts full circles.
    pub heading_rad: f64,
    pub speed_mps: f64,
    /// Velocity of the air over the water, east and north.
    pub air_mps: [f64; 2],
    /// All three quantities were heard around this moment.
    pub heard: bool,
}

impl Moment {
    pub fn wind_mps(&self) -> f64 {
        self.air_mps[0].hypot(self.air_mps[1])
    }

    pub fn wind_from_rad(&self) -> f64 {
        (-self.air_mps[0]).atan2(-self.air_mps[1])
    }
}

/// A log.
#[derive(Debug, Default)]
pub struct Log {
    /// Seconds after its first known time.
    pub sentences: Vec<(f64, RawSentence)>,
    /// One for each tenth of a second from then on.
    pub moments: Vec<Moment>,
}

/// Values of one quantity with their times.
type Heard<const N: usize> = Vec<(f64, [f64; N])>;

impl Log {
    /// Reads a log. Wind and boat speeds are multiplied by `speeds` in moments and sentences.
    pub fn open(path: &Path, speeds: f64) -> Result<Self, Box<dyn std::error::Error>> {
        let mut sentences = Vec::new();
        let log = LogReader::open(path, FrameSettings::default())
            .map_err(|error| format!("cannot read {}: {error}", path.display()))?;
        for item in log {
            let item = item?;
            if let Frame::Sentence(sentence) = item.frame {
                sentences.push((item.time.map(|at| at.0 as f64 / 1000.0), sentence));
            }
        }
        let mut timed = timed(sentences);
        if timed.is_empty() {
            return Err(format!("{}: no time in it", path.display()).into());
        }
        let moments = moments(&timed, speeds);
        if speeds != 1.0 {
            for (_, sentence) in &mut timed {
                scale(sentence, speeds);
            }
        }
        Ok(Self {
            sentences: timed,
            moments,
        })
    }
}

/// Time of day in a sentence, seconds.
fn clock(sentence: &RawSentence) -> Option<f64> {
    let decoded = Decoder::new().decode(&sentence.text).ok()?;
    decoded.observations.iter().find_map(|seen| match seen {
        Observation::Utc { time, .. } => {
            Some(f64::from(time.num_seconds_from_midnight()) + f64::from(time.nanosecond()) / 1e9)
        }
        _ => None,
    })
}

/// Gives each sentence its time, seconds after the first.
fn timed(sentences: Vec<(Option<f64>, RawSentence)>) -> Vec<(f64, RawSentence)> {
    let stamped = sentences.iter().any(|(at, _)| at.is_some());
    let mut marks: Vec<(usize, f64)> = Vec::new();
    let (mut base_s, mut last_s) = (0.0, f64::NAN);
    for (i, (at, sentence)) in sentences.iter().enumerate() {
        let said = if stamped { *at } else { clock(sentence) };
        let Some(mut said_s) = said else { continue };
        if !stamped {
            if said_s + base_s < last_s - DAY_S / 2.0 {
                base_s += DAY_S;
            }
            said_s += base_s;
        }
        // Two clocks in one log: the one that is behind is not listened to.
        if last_s.is_nan() || (said_s > last_s && said_s < last_s + STEP_S) {
            marks.push((i, said_s));
            last_s = said_s;
        }
    }
    let Some(first) = marks.first().copied() else {
        return Vec::new();
    };
    let mut marks = marks.into_iter().skip(1).peekable();
    let mut from = first;
    sentences
        .into_iter()
        .enumerate()
        .skip(first.0)
        .filter_map(|(i, (_, sentence))| {
            if let Some(mark) = marks.next_if(|mark| mark.0 == i) {
                from = mark;
            }
            // What follows the last mark has no end to be spread to.
            let at_s = match marks.peek() {
                Some(next) => {
                    let share = (i - from.0) as f64 / (next.0 - from.0) as f64;
                    from.1 + share * (next.1 - from.1)
                }
                None if i == from.0 => from.1,
                None => return None,
            };
            Some((at_s - first.1, sentence))
        })
        .collect()
}

fn moments(timed: &[(f64, RawSentence)], speeds: f64) -> Vec<Moment> {
    let (mut headings, mut logs): (Heard<1>, Heard<1>) = (Vec::new(), Vec::new());
    let mut winds: Heard<2> = Vec::new();
    let mut heading_kind: Option<&str> = None;
    let mut decoder = Decoder::new();
    for (at_s, sentence) in timed {
        let Ok(decoded) = decoder.decode(&sentence.text) else {
            continue;
        };
        for seen in decoded.observations {
            match (decoded.kind, seen) {
                ("MWV", Observation::ApparentWind { angle, speed }) => {
                    if let (Some(angle), Some(speed)) = (angle, speed) {
                        let (angle, speed) = (in_radians(angle), in_metres_per_second(speed));
                        let (s, c) = angle.sin_cos();
                        // Where the air goes to, starboard and ahead.
                        winds.push((*at_s, [-speeds * speed * s, -speeds * speed * c]));
                    }
                }
                ("VHW", Observation::WaterSpeed { longitudinal, .. }) => {
                    logs.push((*at_s, [speeds * in_metres_per_second(longitudinal)]));
                }
                (kind @ ("HDT" | "THS" | "HDG" | "HDM"), Observation::Heading(heading))
                    if *heading_kind.get_or_insert(kind) == kind =>
                {
                    let heading = in_radians(match heading {
                        HeadingObservation::True { heading }
                        | HeadingObservation::Magnetic { heading } => heading,
                        HeadingObservation::Compass { sensor, .. } => sensor,
                    });
                    let before = headings.last().map_or(heading, |(_, [h])| *h);
                    headings.push((*at_s, [before + wrap_signed(heading - before)]));
                }
                _ => {}
            }
        }
    }
    let Some(end_s) = timed.last().map(|(at_s, _)| *at_s) else {
        return Vec::new();
    };
    let count = (end_s * HZ) as usize + 1;
    let (heading, heading_heard) = even(&headings, count);
    let (speed, speed_heard) = even(&logs, count);
    let (wind, wind_heard) = even(&winds, count);
    let heading = hann(&heading, 31);
    let speed = hann(&speed, 61);
    let wind = hann(&wind, 31);
    let air: Vec<[f64; 2]> = heading
        .iter()
        .zip(&speed)
        .zip(&wind)
        .map(|(([heading], [speed]), [starboard, ahead])| {
            let (s, c) = heading.sin_cos();
            let ahead = ahead + speed;
            [ahead * s + starboard * c, ahead * c - starboard * s]
        })
        .collect();
    let air = hann(&air, 41);
    (0..count)
        .map(|i| Moment {
            heading_rad: heading[i][0],
            speed_mps: speed[i][0].max(0.0),
            air_mps: air[i],
            heard: heading_heard[i] && speed_heard[i] && wind_heard[i],
        })
        .collect()
}

/// Interpolated to even moments, and whether each lies in a short enough silence.
fn even<const N: usize>(heard: &[(f64, [f64; N])], count: usize) -> (Vec<[f64; N]>, Vec<bool>) {
    let mut next = 0;
    (0..count)
        .map(|i| {
            let t_s = i as f64 / HZ;
            while heard.get(next).is_some_and(|(at_s, _)| *at_s < t_s) {
                next += 1;
            }
            match (
                next.checked_sub(1).and_then(|i| heard.get(i)),
                heard.get(next),
            ) {
                (Some((a_s, a)), Some((b_s, b))) => {
                    let share = (t_s - a_s) / (b_s - a_s).max(1e-9);
                    let mix = std::array::from_fn(|k| a[k] + share * (b[k] - a[k]));
                    (mix, b_s - a_s <= GAP_S)
                }
                (Some((_, only)), None) | (None, Some((_, only))) => (*only, false),
                (None, None) => ([0.0; N], false),
            }
        })
        .unzip()
}

/// Smoothed with a Hann window of so many moments (odd); shorter at the ends.
fn hann<const N: usize>(values: &[[f64; N]], length: usize) -> Vec<[f64; N]> {
    let half = (length / 2) as isize;
    let weights: Vec<f64> = (-half..=half)
        .map(|k| 0.5 + 0.5 * (std::f64::consts::PI * k as f64 / (half + 1) as f64).cos())
        .collect();
    (0..values.len() as isize)
        .map(|i| {
            let (mut sum, mut weight) = ([0.0; N], 0.0);
            for (w, k) in weights.iter().zip(-half..=half) {
                let Some(value) = usize::try_from(i + k).ok().and_then(|j| values.get(j)) else {
                    continue;
                };
                weight += w;
                for (sum, value) in sum.iter_mut().zip(value) {
                    *sum += w * value;
                }
            }
            sum.map(|sum| sum / weight)
        })
        .collect()
}

/// Multiplies the speeds in a sentence.
fn scale(sentence: &mut RawSentence, speeds: f64) {
    let places: &[usize] = match sentence.address().get(2..) {
        Some("MWV") => &[3],
        Some("VHW" | "VTG" | "MWD") => &[5, 7],
        Some("VWR" | "VWT") => &[3, 5, 7],
        Some("RMC") => &[7],
        _ => return,
    };
    let body: Vec<String> = sentence
        .body()
        .split(',')
        .enumerate()
        .map(|(i, field)| match field.parse::<f64>() {
            Ok(value) if places.contains(&i) => format!("{:.2}", speeds * value),
            _ => field.to_owned(),
        })
        .collect();
    let body = body.join(",");
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    sentence.text = format!("${body}*{sum:02X}");
}
