//! Settings of the forecast: horizon, ensemble size, hands, prior uncertainties.

use crate::decode::Line;

/// Pace of hands with the two reels. Line is given by the drag, so only taking it turns a handle.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Hands {
    /// From hearing the advice to the first metre.
    pub reaction_s: f64,
    /// Main line given slowly against the drag.
    pub give_m_per_s: f64,
    /// Main line wound in by one turn of the handle.
    pub take_m_per_crank: f64,
    /// Turns of the main reel's handle a second.
    pub cranks_per_s: f64,
    /// Kite line given slowly against the drag.
    pub kite_give_m_per_s: f64,
    /// Kite line wound in by one turn of the handle.
    pub kite_m_per_crank: f64,
    /// Turns of the kite reel's handle a second.
    pub kite_cranks_per_s: f64,
}

impl Default for Hands {
    /// Invented: a large main reel, and a smaller one for the kite whose handle turns easier.
    fn default() -> Self {
        Self {
            reaction_s: 4.0,
            give_m_per_s: 1.5,
            take_m_per_crank: 0.9,
            cranks_per_s: 1.2,
            kite_give_m_per_s: 1.5,
            kite_m_per_crank: 0.7,
            kite_cranks_per_s: 1.5,
        }
    }
}

impl Hands {
    /// Pace of a correction, positive.
    #[must_use]
    pub fn pace_m_per_s(&self, line: Line, by_m: f64) -> f64 {
        match (line, by_m >= 0.0) {
            (Line::Main, true) => self.give_m_per_s,
            (Line::Main, false) => self.take_m_per_crank * self.cranks_per_s,
            (Line::Kite, true) => self.kite_give_m_per_s,
            (Line::Kite, false) => self.kite_m_per_crank * self.kite_cranks_per_s,
        }
    }

    /// Turns of that reel's handle for a correction; `None` when giving.
    #[must_use]
    pub fn cranks(&self, line: Line, by_m: f64) -> Option<f64> {
        let per_crank_m = match line {
            Line::Main => self.take_m_per_crank,
            Line::Kite => self.kite_m_per_crank,
        };
        (by_m < 0.0).then(|| (by_m.abs() / per_crank_m).round())
    }
}

/// Where bites come best: off dead astern, on either side, seen from the kite rod.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
pub struct BiteZone {
    /// Nearest to dead astern.
    pub from_deg: f64,
    /// Farthest from it.
    pub to_deg: f64,
}

impl Default for BiteZone {
    /// Around 45 degrees (common practice, no source).
    fn default() -> Self {
        Self {
            from_deg: 25.0,
            to_deg: 65.0,
        }
    }
}

impl BiteZone {
    /// Whether a kite so far off dead astern stands in it.
    #[must_use]
    pub fn holds(&self, off_astern_deg: f64) -> bool {
        (self.from_deg..=self.to_deg).contains(&off_astern_deg.abs())
    }
}

/// Prior standard deviations of rig, air and reports. Own judgement of what a crew knows (10 to 20
/// % at best), no source.
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
}

impl Default for Doubt {
    fn default() -> Self {
        Self {
            kite_lift: 0.15,
            kite_drag: 0.15,
            wind_exponent: 0.025,
            wet_drag: 0.20,
            main_line_diameter: 0.08,
            kite_line_diameter: 0.08,
            marker_diameter: 0.08,
            main_line_out: 0.05,
            kite_line_out: 0.03,
            correction: 0.10,
            wind_angle_deg: 2.5,
            wind_speed: 0.04,
            wrong_report: 0.05,
            eye_deg: 4.0,
        }
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
    /// Share of its strength from which a line or the rod holder counts as overloaded: knots and
    /// wear take much of what the label says (common practice, no source).
    pub overload_share: f64,
    /// Share of its strength from which the band may let go (invented).
    pub release_share: f64,
    /// Prior uncertainties.
    pub doubt: Doubt,
    /// Airborne or dragging for so long is an event; shorter ones are hops and dips.
    pub event_s: f64,
    /// Immersion from which the bait drags.
    pub dragging_immersion: f64,
    /// Immersion a plan aims at.
    pub trim_immersion: f64,
    /// Longest interval between forecasts with nothing ahead.
    pub calm_refresh_s: f64,
    /// Longest interval between computations of fan and turn limits.
    pub settled_refresh_s: f64,
}

impl Default for ForecastSettings {
    fn default() -> Self {
        Self {
            horizon_s: 120.0,
            particles: 512,
            futures: 128,
            seed: 7,
            hands: Hands::default(),
            bite_zone: BiteZone::default(),
            kite_sinking_deg: 20.0,
            overload_share: 0.5,
            release_share: 0.8,
            doubt: Doubt::default(),
            event_s: 3.0,
            dragging_immersion: 0.7,
            trim_immersion: 0.25,
            calm_refresh_s: 4.0,
            settled_refresh_s: 10.0,
        }
    }
}

impl ForecastSettings {
    /// Every complaint, each with the key, the value and the allowed range.
    #[must_use]
    pub fn check(&self) -> Vec<String> {
        let (hands, doubt) = (&self.hands, &self.doubt);
        let rules = [
            ("horizon_s", self.horizon_s, 30.0, 300.0),
            ("particles", self.particles as f64, 16.0, 2000.0),
            ("futures", self.futures as f64, 16.0, 2000.0),
            ("hands.reaction_s", hands.reaction_s, 0.0, 30.0),
            ("hands.give_m_per_s", hands.give_m_per_s, 0.05, 10.0),
            ("hands.take_m_per_crank", hands.take_m_per_crank, 0.05, 3.0),
            ("hands.cranks_per_s", hands.cranks_per_s, 0.1, 5.0),
            (
                "hands.kite_give_m_per_s",
                hands.kite_give_m_per_s,
                0.05,
                10.0,
            ),
            ("hands.kite_m_per_crank", hands.kite_m_per_crank, 0.05, 3.0),
            ("hands.kite_cranks_per_s", hands.kite_cranks_per_s, 0.1, 5.0),
            ("bite_zone.from_deg", self.bite_zone.from_deg, 0.0, 89.0),
            ("bite_zone.to_deg", self.bite_zone.to_deg, 1.0, 90.0),
            ("kite_sinking_deg", self.kite_sinking_deg, 5.0, 45.0),
            ("overload_share", self.overload_share, 0.1, 1.0),
            ("release_share", self.release_share, 0.1, 1.0),
            ("doubt.kite_lift", doubt.kite_lift, 0.0, 0.5),
            ("doubt.kite_drag", doubt.kite_drag, 0.0, 0.5),
            ("doubt.wind_exponent", doubt.wind_exponent, 0.0, 0.1),
            ("doubt.wet_drag", doubt.wet_drag, 0.0, 0.5),
            (
                "doubt.main_line_diameter",
                doubt.main_line_diameter,
                0.0,
                0.3,
            ),
            (
                "doubt.kite_line_diameter",
                doubt.kite_line_diameter,
                0.0,
                0.3,
            ),
            ("doubt.marker_diameter", doubt.marker_diameter, 0.0, 0.3),
            ("doubt.main_line_out", doubt.main_line_out, 0.0, 0.3),
            ("doubt.kite_line_out", doubt.kite_line_out, 0.0, 0.3),
            ("doubt.correction", doubt.correction, 0.0, 0.5),
            ("doubt.wind_angle_deg", doubt.wind_angle_deg, 0.0, 15.0),
            ("doubt.wind_speed", doubt.wind_speed, 0.0, 0.3),
            ("doubt.wrong_report", doubt.wrong_report, 0.001, 0.4),
            ("doubt.eye_deg", doubt.eye_deg, 0.5, 30.0),
            ("event_s", self.event_s, 1.0, 20.0),
            ("dragging_immersion", self.dragging_immersion, 0.5, 1.0),
            ("trim_immersion", self.trim_immersion, 0.02, 0.5),
            ("calm_refresh_s", self.calm_refresh_s, 1.0, 60.0),
            ("settled_refresh_s", self.settled_refresh_s, 1.0, 120.0),
        ];
        let mut complaints: Vec<String> = rules
            .iter()
            .filter(|(_, value, low, high)| !(low..=high).contains(&value))
            .map(|(key, value, low, high)| format!("{key} = {value}: must be {low} to {high}"))
            .collect();
        if self.bite_zone.from_deg >= self.bite_zone.to_deg {
            complaints.push(format!(
                "bite_zone.from_deg = {}: must be below bite_zone.to_deg = {}",
                self.bite_zone.from_deg, self.bite_zone.to_deg
            ));
        }
        complaints
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_reel_has_its_own_pace_and_cranks() {
        let hands = Hands {
            take_m_per_crank: 0.8,
            cranks_per_s: 1.0,
            kite_give_m_per_s: 3.0,
            kite_m_per_crank: 0.5,
            kite_cranks_per_s: 2.0,
            ..Hands::default()
        };
        // Own arithmetic.
        assert_eq!(hands.cranks(Line::Main, -12.0), Some(15.0));
        assert_eq!(hands.cranks(Line::Kite, -12.0), Some(24.0));
        assert_eq!(hands.cranks(Line::Kite, 12.0), None);
        assert_eq!(hands.pace_m_per_s(Line::Main, -12.0), 0.8);
        assert_eq!(hands.pace_m_per_s(Line::Kite, -12.0), 1.0);
        assert_eq!(hands.pace_m_per_s(Line::Kite, 12.0), 3.0);
        assert_eq!(hands.pace_m_per_s(Line::Main, 12.0), hands.give_m_per_s);
    }

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
        assert!(complaints[0].contains("futures = 3: must be 16 to 2000"));
        assert!(complaints[1].contains("bite_zone.from_deg"));
    }
}
