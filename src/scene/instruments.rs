//! The boat's instruments: sentences from the true motion, with their errors.

use rand_chacha::ChaCha8Rng;

use super::noise::normal;
use super::rolling::Rolling;
use super::script::Script;
use crate::angles::{wrap_positive, wrap_positive_deg};
use crate::rig::{BoatMotion, Ride, Wind};
use crate::time::Millis;
use crate::units::KNOT_MPS;

/// An invented place in mid-ocean: 12 N 40 W.
const ORIGIN_DEG: (f64, f64) = (12.0, -40.0);
/// Metres a degree of latitude on a sphere of 60 nautical miles a degree.
const METRES_PER_DEGREE: f64 = 60.0 * 1852.0;

/// The true motion at one moment.
pub(super) struct Instant {
    pub(super) t_s: f64,
    pub(super) boat: BoatMotion,
    pub(super) wind: Wind,
}

/// Writes what the instruments say.
pub(super) struct Panel<'a> {
    script: &'a Script,
    rolling: Option<Rolling<'a>>,
    /// Position over the ground, metres east and north of the origin.
    position_m: (f64, f64),
    last_t_s: f64,
    next_s: f64,
}

impl<'a> Panel<'a> {
    pub(super) fn new(script: &'a Script, ride: Option<&'a Ride>) -> Self {
        Self {
            script,
            rolling: ride.map(|ride| Rolling::new(script, ride)),
            position_m: (0.0, 0.0),
            last_t_s: 0.0,
            next_s: 0.0,
        }
    }

    pub(super) fn write(
        &mut self,
        now: &Instant,
        rng: &mut ChaCha8Rng,
        lines: &mut Vec<(Millis, String)>,
    ) {
        let current = self.script.current;
        let heading = now.boat.heading_rad;
        let speed = now.boat.speed_mps;
        let through = (speed * heading.sin(), speed * heading.cos());
        let over_ground = (
            through.0 + current.drift_mps * current.set_rad.sin(),
            through.1 + current.drift_mps * current.set_rad.cos(),
        );
        let dt = now.t_s - self.last_t_s;
        self.position_m.0 += over_ground.0 * dt;
        self.position_m.1 += over_ground.1 * dt;
        self.last_t_s = now.t_s;
        if now.t_s + 1e-9 < self.next_s {
            return;
        }
        let instruments = &self.script.instruments;
        self.next_s += 1.0 / instruments.rate_hz;

        // Apparent wind at the sensor: over the ground, less the boat's own velocity.
        let at_sensor = now.wind.speed_10m_mps
            * (instruments.sensor_height_m / 10.0).powf(now.wind.shear_exponent);
        let shaken = self
            .rolling
            .as_ref()
            .map(|rolling| rolling.shaken(now.t_s, heading, instruments.sensor_height_m, rng))
            .unwrap_or_default();
        let blowing = (
            -at_sensor * now.wind.from_rad.sin() - over_ground.0 - shaken.sensor_mps.0,
            -at_sensor * now.wind.from_rad.cos() - over_ground.1 - shaken.sensor_mps.1,
        );
        let from = (-blowing.0).atan2(-blowing.1);
        let angle = from - heading
            + instruments.wind_angle_bias_rad
            + instruments.wind_angle_noise_rad * normal(rng);
        let apparent = blowing.0.hypot(blowing.1)
            * (1.0 + instruments.wind_speed_noise_share * normal(rng)).max(0.0);
        let seen_heading = heading + shaken.yaw_rad + instruments.heading_noise_rad * normal(rng);
        let rate = now.boat.yaw_rate_rad_s
            + shaken.yaw_rate_rad_s
            + instruments.rate_noise_rad_s * normal(rng);

        let degrees = |angle: f64, decimals: usize| {
            let text = format!("{:.decimals$}", wrap_positive(angle).to_degrees());
            // 359.96 must not be written 360.0.
            if text.starts_with("360") {
                format!("{:.decimals$}", 0.0)
            } else {
                text
            }
        };
        let mut at_s = now.t_s;
        let mut say = |body: String| {
            lines.push((self.script.start.plus_seconds(at_s), finish(&body)));
            at_s += 0.05;
        };
        say(format!(
            "WIMWV,{},R,{:.1},N,A",
            degrees(angle, 1),
            apparent / KNOT_MPS
        ));
        say(format!("HEHDT,{},T", degrees(seen_heading, 1)));
        say(format!(
            "VWVHW,{},T,,,{:.2},N,,",
            degrees(seen_heading, 1),
            (speed + shaken.log_mps).max(0.0) / KNOT_MPS
        ));
        say(format!("TIROT,{:.1},A", rate.to_degrees() * 60.0));
        if (now.t_s.fract()) < 1e-9 {
            say(self.rmc(over_ground, now.t_s));
        }
    }

    fn rmc(&self, over_ground: (f64, f64), t_s: f64) -> String {
        let latitude = ORIGIN_DEG.0 + self.position_m.1 / METRES_PER_DEGREE;
        let longitude = ORIGIN_DEG.1
            + self.position_m.0 / (METRES_PER_DEGREE * ORIGIN_DEG.0.to_radians().cos());
        let course = wrap_positive(over_ground.0.atan2(over_ground.1));
        let utc = self
            .script
            .start
            .plus_seconds(t_s)
            .to_utc()
            .unwrap_or_default();
        format!(
            "GPRMC,{}.00,A,{},{},{},{},{:.2},{:.1},{},,,A",
            utc.format("%H%M%S"),
            degrees_minutes(latitude, 2),
            if latitude >= 0.0 { 'N' } else { 'S' },
            degrees_minutes(longitude, 3),
            if longitude >= 0.0 { 'E' } else { 'W' },
            over_ground.0.hypot(over_ground.1) / KNOT_MPS,
            wrap_positive_deg(course.to_degrees()),
            utc.format("%d%m%y"),
        )
    }
}

/// `ddmm.mmmm` of an unsigned angle with so many digits of degrees.
fn degrees_minutes(angle_deg: f64, digits: usize) -> String {
    let ten_thousandths = (angle_deg.abs() * 60.0 * 10_000.0).round() as u64;
    let (degrees, rest) = (ten_thousandths / 600_000, ten_thousandths % 600_000);
    format!(
        "{degrees:0digits$}{:02}.{:04}",
        rest / 10_000,
        rest % 10_000
    )
}

/// `$` body `*` checksum.
fn finish(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_and_minutes_round_over() {
        assert_eq!(degrees_minutes(12.0, 2), "1200.0000");
        assert_eq!(degrees_minutes(-39.999_999_999, 3), "04000.0000");
        assert_eq!(degrees_minutes(45.555_833_3, 2), "4533.3500");
    }

    #[test]
    fn checksum_of_a_published_sentence() {
        // Published in the tests of `adrianmo/go-nmea` (December 2024).
        assert_eq!(finish("WIMWV,12.1,T,10.1,N,A"), "$WIMWV,12.1,T,10.1,N,A*27");
    }
}
