//! What the forecast lacks, since when, and why: silent, useless and contradictory sensors in words.

use super::boat::Vessel;
use super::now::{Missing, Quantity};
use super::samples::{WindFault, WindSample, WorkedOutSample};
use super::source::{Fitness, Source, Trust};
use crate::time::Millis;

impl Vessel {
    /// The most recent measured wind that is live but not believed, and why it is not.
    pub(super) fn faulty_wind(&self, at: Millis) -> Option<(&Source<WindSample>, WindFault)> {
        self.wind
            .sources()
            .filter(|s| at.seconds_since(s.at) <= self.settings.lost_s)
            .filter_map(|s| Some((s, s.value.fault(at)?)))
            .max_by_key(|(s, _)| s.at)
    }

    /// Whether a worked-out wind comes from an instrument whose measured wind is useless, and is
    /// therefore useless too.
    pub(super) fn is_from_useless(&self, worked_out: &Source<WorkedOutSample>, at: Millis) -> bool {
        self.wind
            .sources()
            .filter(|s| s.is_of_instrument(worked_out))
            .filter(|s| at.seconds_since(s.at) <= self.settings.lost_s)
            .any(|s| s.value.fault(at).is_some() || s.trust >= Trust::Aside)
    }

    pub(super) fn missing_wind(&self, at: Millis) -> Missing {
        let heard = |s: &Source<WindSample>| Some((s.value.useful_at()?, s.name()));
        let measured = self.wind.sources().filter_map(heard).max();
        let lately = |heard: Millis| at.seconds_since(heard) <= self.settings.lost_s;
        let fault = self.faulty_wind(at);
        let worked_out = self
            .worked_out_wind
            .sources()
            // One that lives and is not believed was worked out from the useless one.
            .filter(|s| fault.is_none() || !lately(s.at))
            .filter_map(|s| Some((s.value.last_moved?, s.name())))
            .max();
        let last = measured.max(worked_out.clone());
        let faulty = fault.map(|(s, fault)| match fault {
            WindFault::Zero => format!(
                "{} gives a wind angle but its speed reads 0.0: no wind, or a dead sensor",
                s.name()
            ),
            WindFault::Frozen => format!(
                "{} repeats exactly the same angle and speed while the boat moves: a frozen sensor",
                s.name()
            ),
        });
        let zero = || {
            let dead = self
                .worked_out_wind
                .sources()
                .filter(|s| lately(s.at))
                .find(|s| !s.value.is_fit(at))?;
            Some(format!(
                "{} gives a true wind of 0.0: no wind, or a dead sensor",
                dead.name()
            ))
        };
        let half = || {
            let (_, why) = self
                .half_wind
                .as_ref()
                .filter(|(heard, _)| lately(*heard))?;
            Some(why.clone())
        };
        let only_true = || {
            let (_, name) = worked_out.filter(|(heard, _)| lately(*heard))?;
            Some(format!(
                "{name} gives only true wind, and without heading and speed it cannot be worked back"
            ))
        };
        Missing {
            quantity: Quantity::Wind,
            last_heard: last.as_ref().map(|(heard, _)| *heard),
            why: faulty
                .or_else(only_true)
                .or_else(half)
                .or_else(zero)
                .unwrap_or_else(|| {
                    let never = "no MWV, VWR, VWT or MWD on any feed";
                    self.silence(Quantity::Wind, "wind", at, last.as_ref(), never)
                }),
        }
    }

    pub(super) fn missing_heading(&self, at: Millis) -> Missing {
        let last = self.heading.last_heard().map(|s| (s.at, s.name()));
        let never = "no HDT, THS, HDG, HDM or VHW on any feed";
        let mut why = self.silence(Quantity::Heading, "heading", at, last.as_ref(), never);
        why.push_str(match (self.course.pick(at), self.speed_ground.pick(at)) {
            (Some(_), Some(_)) => "; too little way on for the course over ground to stand in",
            _ => "; no course over ground to stand in",
        });
        Missing {
            quantity: Quantity::Heading,
            last_heard: last.map(|(heard, _)| heard),
            why,
        }
    }

    pub(super) fn missing_speed(&self, at: Millis) -> Missing {
        let log = self.log.last_heard().map(|s| (s.at, s.name()));
        let ground = self.speed_ground.last_heard().map(|s| (s.at, s.name()));
        let last = log.max(ground);
        let never = "no VHW, VBW, VTG or RMC on any feed";
        Missing {
            quantity: Quantity::Speed,
            why: self.silence(Quantity::Speed, "speed", at, last.as_ref(), never),
            last_heard: last.map(|(heard, _)| heard),
        }
    }

    /// Silence in words, with what arrived meanwhile but could not be used.
    fn silence(
        &self,
        quantity: Quantity,
        what: &str,
        at: Millis,
        last: Option<&(Millis, String)>,
        never: &str,
    ) -> String {
        let unusable = self.unusable.lately(quantity, at, self.settings.lost_s);
        match (last, unusable) {
            (Some((_, name)), unusable) => format!(
                "no {what} (last from {name}){}",
                unusable.map_or_else(String::new, |said| format!("; {said}"))
            ),
            (None, Some(said)) => format!("no {what} heard yet: {said}"),
            (None, None) => format!("no {what} heard yet: {never}"),
        }
    }
}
