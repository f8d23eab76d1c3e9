//! Settings of the forecast: horizon, ensemble size, hands, prior uncertainties.

use super::hands::{HANDS, Hands};
use super::sea::{SEA, SeaSettings};
use crate::key::{Complaint, Key, Section, check, default_of, row_of};
use crate::rig::DRAGGING_IMMERSION;

/// Immersions of a bait that can be trimmed to.
pub const TRIM_RANGE: (f64, f64) = (0.02, 0.5);

/// `[forecast]` and the sections in it.
pub const FORECAST: [Section; 5] = [
    Section::new("forecast", "The forecast", "", KEYS),
    Section::new(
        "forecast.hands",
        "",
        "What this crew can do with these reels. The defaults are invented.",
        HANDS,
    ),
    Section::new(
        "forecast.bite_zone",
        "",
        "Where bites are best: the angle of the kite line off dead astern, to either side. Around 45 \
         degrees (common practice, no source).",
        BITE_ZONE,
    ),
    Section::new(
        "forecast.doubt",
        "",
        "How far off the values may be that nobody can measure aboard: one standard deviation each. \
         Own judgement of what a crew knows (10 to 20 % at best), no source.",
        DOUBT,
    ),
    Section::new(
        "forecast.sea",
        "",
        "The waves, where no sensor tells them (XDR with heave, pitch or roll does).",
        SEA,
    ),
];

const KEYS: &[Key] = &[
    Key::number("horizon_s", "s", 30.0, 300.0)
        .default(120.0)
        .about(
            "how far the forecast reaches",
            "a little longer than your longest turn takes",
        ),
    Key::whole("particles", "", 16, 2000).default(512.0).about(
        "how many hypotheses about rig and air are followed and weighted by what the crew \
             reports (the particles of the filter)",
        "as many as the computer can: it says so on the pages when it is too slow",
    ),
    Key::whole("futures", "", 16, 2000).default(128.0).about(
        "how many possible futures each forecast draws from them; half as many on a straight \
             course, and where those agree",
        "as many as the computer can: it says so on the pages when it is too slow",
    ),
    Key::whole("seed", "", 0, i64::MAX as u64)
        .default(7.0)
        .about(
            "seed of all draws; the same seed with the same input gives the same advice",
            "nothing to measure: any number does",
        ),
    Key::number("kite_sinking_deg", "degrees", 5.0, 45.0)
        .default(20.0)
        .about(
            "a kite below this elevation sinks",
            "the elevation below which yours no longer recovers by itself",
        ),
    Key::number("overload_share", "", 0.1, 1.0)
        .default(0.5)
        .about(
            "share of its strength from which a line or the rod holder counts as overloaded: knots \
             and wear take about half of what the label says (common practice, no source); \
             strengths that [rig] does not give are not watched, and gusts shorter than a second \
             are not seen",
            "nothing to measure: less for old line, more never",
        ),
    Key::number("release_share", "", 0.1, 1.0)
        .default(0.8)
        .about(
            "share of its strength from which the release band may let go (invented)",
            "pull ten bands on a spring scale: the least over the mean",
        ),
    Key::number("event_s", "s", 1.0, 20.0).default(3.0).about(
        "out of the water or dragging for so long is an event; anything shorter is a hop or a \
             dip",
        "how long the bait may be away before it matters to you",
    ),
    Key::number("dragging_immersion", "", 0.5, 1.0)
        .default(DRAGGING_IMMERSION)
        .about(
            "immersion of the bait (0 out of the water, 1 under) from which it drags",
            "by eye: the immersed part of a bait that you would call dragging",
        ),
    Key::number("trim_immersion", "", TRIM_RANGE.0, TRIM_RANGE.1)
        .default(0.25)
        .about(
            "immersion of the bait that you trim to, until your reports have shown it",
            "by eye: the immersed part of a bait that skips as you like it",
        ),
    Key::number("calm_refresh_s", "s", 1.0, 60.0)
        .default(12.0)
        .about(
            "longest interval between forecasts while nothing is at stake: no turn, no trouble \
             likely, boat and wind as foreseen",
            "nothing to measure: longer spares the computer",
        ),
    Key::number("settled_refresh_s", "s", 1.0, 120.0)
        .default(10.0)
        .about(
            "longest interval between computations of the fan of headings and of the turn limits",
            "nothing to measure: longer spares the computer",
        ),
];

const BITE_ZONE: &[Key] = &[
    Key::number("from_deg", "degrees", 0.0, 89.0)
        .default(25.0)
        .about(
            "the end nearest to dead astern; must be below to_deg",
            "from your own bites: bearing of the kite line off dead astern",
        ),
    Key::number("to_deg", "degrees", 1.0, 90.0)
        .default(65.0)
        .about(
            "the end furthest from dead astern",
            "from your own bites: bearing of the kite line off dead astern",
        ),
];

const DOUBT: &[Key] = &[
    Key::number("kite_lift", "", 0.0, 0.5)
        .default(0.15)
        .about("lift coefficient of the kite, share", "how far apart kites of one make fly; leave the default unless you compared several"),
    Key::number("kite_drag", "", 0.0, 0.5)
        .default(0.15)
        .about("drag coefficient of the kite, share", "how far apart kites of one make fly; leave the default unless you compared several"),
    Key::number("wind_exponent", "", 0.0, 0.1)
        .default(0.025)
        .about(
            "exponent of the wind profile: how fast the wind grows with height",
            "nothing to measure aboard: leave the key away for the default",
        ),
    Key::number("wet_drag", "", 0.0, 0.5)
        .default(0.2)
        .about("drag of the bait in the water, share", "how far your baits differ in size and cut"),
    Key::number("main_line_diameter", "", 0.0, 0.3)
        .default(0.08)
        .about(
            "diameter of the main line, share; it stands for the line's drag",
            "measure the line at ten places: their spread over the mean",
        ),
    Key::number("kite_line_diameter", "", 0.0, 0.3)
        .default(0.08)
        .about("diameter of the kite line, share", "measure the line at ten places: their spread over the mean"),
    Key::number("marker_diameter", "", 0.0, 0.3)
        .default(0.08)
        .about("diameter of the marker, share", "blow up ten and measure them: their spread over the mean"),
    Key::number("main_line_out", "", 0.0, 0.3)
        .default(0.05)
        .about("main line out, share of the count", "let out by your marks or counter, then measure along the quay: the difference over the length"),
    Key::number("kite_line_out", "", 0.0, 0.3)
        .default(0.03)
        .about("kite line out, share of the count", "let out by your marks or counter, then measure along the quay: the difference over the length"),
    Key::number("correction", "", 0.0, 0.5).default(0.1).about(
        "line moved in answer to an advisory, share of what is reported",
        "let out by feel, then measure: the difference over the length",
    ),
    Key::number("wind_angle_deg", "degrees", 0.0, 15.0)
        .default(2.5)
        .about("angle of the masthead wind sensor", "head to wind in calm water, both tacks: half the difference of the angles"),
    Key::number("wind_speed", "", 0.0, 0.3)
        .default(0.04)
        .about("speed of the masthead wind sensor, share", "compare with a hand-held meter at the same height: the difference over the speed"),
    Key::number("wrong_report", "", 0.001, 0.4)
        .default(0.05)
        .about("chance that a report of the bait is wrong", "nothing to measure: more with untrained eyes or spray"),
    Key::number("eye_deg", "degrees", 0.5, 30.0)
        .default(4.0)
        .about("elevation or bearing judged by eye", "judge by eye, then check with an inclinometer or compass: the usual difference"),
    Key::number("trim_immersion", "", 0.0, 0.2)
        .default(0.1)
        .about("immersion of the bait that the crew trims to", "nothing to measure: crews differ in how near to lift-off they fish"),
];

/// Where bites come best: off dead astern, on either side, seen from the kite rod.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
pub struct BiteZone {
    /// Nearest to dead astern.
    pub from_deg: f64,
    /// Farthest from it.
    pub to_deg: f64,
}

impl Default for BiteZone {
    fn default() -> Self {
        const DEFAULT: BiteZone = BiteZone {
            from_deg: default_of(BITE_ZONE, "from_deg"),
            to_deg: default_of(BITE_ZONE, "to_deg"),
        };
        DEFAULT
    }
}

impl BiteZone {
    /// Whether a kite so far off dead astern stands in it.
    #[must_use]
    pub fn holds(&self, off_astern_deg: f64) -> bool {
        (self.from_deg..=self.to_deg).contains(&off_astern_deg.abs())
    }
}

/// Prior standard deviations of rig, air and reports.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Doubt {
    /// Kite lift coefficient, share.
    pub kite_lift: f64,
    /// Kite drag coefficient, share.
    pub kite_drag: f64,
    /// Exponent of the wind profile.
    pub wind_exponent: f64,
    /// Drag of the wet bait, share.
    pub wet_drag: f64,
    /// Main line diameter, share (a proxy for its drag).
    pub main_line_diameter: f64,
    /// Kite line diameter, share.
    pub kite_line_diameter: f64,
    /// Marker diameter, share.
    pub marker_diameter: f64,
    /// Main line out, share of the count.
    pub main_line_out: f64,
    /// Kite line out, share of the count.
    pub kite_line_out: f64,
    /// Reported correction, share of it.
    pub correction: f64,
    /// Angle of the masthead sensor.
    pub wind_angle_deg: f64,
    /// Speed of the masthead sensor, share.
    pub wind_speed: f64,
    /// Chance that a report of the bait is wrong.
    pub wrong_report: f64,
    /// Elevation or bearing judged by eye.
    pub eye_deg: f64,
    /// Immersion that the crew trims to.
    pub trim_immersion: f64,
}

impl Default for Doubt {
    fn default() -> Self {
        const DEFAULT: Doubt = Doubt {
            kite_lift: default_of(DOUBT, "kite_lift"),
            kite_drag: default_of(DOUBT, "kite_drag"),
            wind_exponent: default_of(DOUBT, "wind_exponent"),
            wet_drag: default_of(DOUBT, "wet_drag"),
            main_line_diameter: default_of(DOUBT, "main_line_diameter"),
            kite_line_diameter: default_of(DOUBT, "kite_line_diameter"),
            marker_diameter: default_of(DOUBT, "marker_diameter"),
            main_line_out: default_of(DOUBT, "main_line_out"),
            kite_line_out: default_of(DOUBT, "kite_line_out"),
            correction: default_of(DOUBT, "correction"),
            wind_angle_deg: default_of(DOUBT, "wind_angle_deg"),
            wind_speed: default_of(DOUBT, "wind_speed"),
            wrong_report: default_of(DOUBT, "wrong_report"),
            eye_deg: default_of(DOUBT, "eye_deg"),
            trim_immersion: default_of(DOUBT, "trim_immersion"),
        };
        DEFAULT
    }
}

/// Settings of the forecast.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ForecastSettings {
    /// How far it reaches.
    pub horizon_s: f64,
    /// Particles of the filter: beliefs about rig and air.
    pub particles: usize,
    /// Futures of a forecast, drawn from them.
    pub futures: usize,
    /// Seed of all draws.
    pub seed: u64,
    /// What hands can do.
    pub hands: Hands,
    /// Where bites are best.
    pub bite_zone: BiteZone,
    /// A kite below this elevation sinks.
    pub kite_sinking_deg: f64,
    /// Share of its strength from which a line or the rod holder counts as overloaded.
    pub overload_share: f64,
    /// Share of its strength from which the band may let go.
    pub release_share: f64,
    /// Prior uncertainties.
    pub doubt: Doubt,
    /// The waves.
    pub sea: SeaSettings,
    /// Airborne or dragging for so long is an event; shorter ones are hops and dips.
    pub event_s: f64,
    /// Immersion from which the bait drags.
    pub dragging_immersion: f64,
    /// Immersion that the crew trims to, before its reports have shown it.
    pub trim_immersion: f64,
    /// Longest interval between forecasts with nothing ahead.
    pub calm_refresh_s: f64,
    /// Longest interval between computations of fan and turn limits.
    pub settled_refresh_s: f64,
}

impl Default for ForecastSettings {
    fn default() -> Self {
        Self {
            horizon_s: default_of(KEYS, "horizon_s"),
            particles: default_of(KEYS, "particles") as usize,
            futures: default_of(KEYS, "futures") as usize,
            seed: default_of(KEYS, "seed") as u64,
            hands: Hands::default(),
            bite_zone: BiteZone::default(),
            kite_sinking_deg: default_of(KEYS, "kite_sinking_deg"),
            overload_share: default_of(KEYS, "overload_share"),
            release_share: default_of(KEYS, "release_share"),
            doubt: Doubt::default(),
            sea: SeaSettings::default(),
            event_s: default_of(KEYS, "event_s"),
            dragging_immersion: default_of(KEYS, "dragging_immersion"),
            trim_immersion: default_of(KEYS, "trim_immersion"),
            calm_refresh_s: default_of(KEYS, "calm_refresh_s"),
            settled_refresh_s: default_of(KEYS, "settled_refresh_s"),
        }
    }
}

impl ForecastSettings {
    /// Every complaint.
    #[must_use]
    pub fn check(&self) -> Vec<Complaint> {
        const FROM: &Key = row_of(BITE_ZONE, "from_deg");
        let mut complaints = check(&FORECAST, self);
        let BiteZone { from_deg, to_deg } = self.bite_zone;
        if from_deg >= to_deg {
            let problem = format!("must be below bite_zone.to_deg = {to_deg}");
            complaints.push(Complaint {
                key: "bite_zone.from_deg".to_owned(),
                ..FROM.clash(from_deg, problem, FROM.cure())
            });
        }
        complaints
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_pass_and_nonsense_is_named() {
        assert!(ForecastSettings::default().check().is_empty());
        let bad = ForecastSettings {
            futures: 3,
            bite_zone: BiteZone {
                from_deg: 60.0,
                to_deg: 50.0,
            },
            ..ForecastSettings::default()
        };
        let complaints = bad.check();
        assert_eq!(complaints.len(), 2, "{complaints:?}");
        assert!(
            complaints[0]
                .to_string()
                .contains("futures = 3: must be 16 to 2000")
        );
        assert_eq!(complaints[1].key, "bite_zone.from_deg");
    }
}
