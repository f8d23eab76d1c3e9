//! Waves: from a flat-water answer to a share of time in contact.
//! In: bait height and significant wave height. Out: a share. Knows no lines.
//!
//! Own model, an assumption: the surface elevation at the bait is Gaussian with a standard
//! deviation of a quarter of the significant wave height (the spectral definition Hs = 4 sigma,
//! from memory), while the bait keeps the mean height of the flat-water model. The effect of waves
//! on the bait itself, and so on skipping, is left out: the share is only a guide.

use super::parameters::Rig;

/// Significant wave height the wind alone would raise at most, m: a fully developed sea after
/// Pierson and Moskowitz 1964, `Hs = 0.21 U^2 / g` with U at 19.5 m, about 1.026 times that at
/// 10 m (from memory). Near a coast or early in a blow the sea is lower.
#[must_use]
pub fn wave_height_from_wind_m(wind_10m_mps: f64) -> f64 {
    let u = 1.026 * wind_10m_mps;
    0.21 * u * u / super::parameters::GRAVITY_MPS2
}

/// Share of time the bait touches water, 0 to 1, when its middle hangs `bait_height_m` above the
/// mean surface in waves of `wave_height_m` (significant). Flat water gives a plain yes or no.
#[must_use]
pub fn contact_share(rig: &Rig, bait_height_m: f64, wave_height_m: f64) -> f64 {
    let clearance_m = bait_height_m - 0.5 * rig.parameters().bait.height_m;
    let sigma_m = 0.25 * wave_height_m;
    if sigma_m < 1e-6 {
        return if clearance_m < 0.0 { 1.0 } else { 0.0 };
    }
    upper_tail(clearance_m / sigma_m)
}

/// Share of a standard Gaussian above `x`: Abramowitz and Stegun 26.2.17 (from memory), absolute
/// error below 1e-7.
fn upper_tail(x: f64) -> f64 {
    let a = x.abs();
    let t = 1.0 / (1.0 + 0.231_641_9 * a);
    let p = t
        * (0.319_381_530
            + t * (-0.356_563_782
                + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    let tail = (-0.5 * a * a).exp() / std::f64::consts::TAU.sqrt() * p;
    if x >= 0.0 { tail } else { 1.0 - tail }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::RigParameters;

    #[test]
    fn gaussian_tail() {
        // Standard normal table, from memory: 1, 1.959964 and -1 standard deviations.
        assert!((upper_tail(0.0) - 0.5).abs() < 1e-7);
        assert!((upper_tail(1.0) - 0.158_655_25).abs() < 1e-7);
        assert!((upper_tail(1.959_964) - 0.025).abs() < 1e-7);
        assert!((upper_tail(-1.0) - 0.841_344_75).abs() < 1e-7);
    }

    #[test]
    fn waves_soften_a_yes_or_no() {
        let rig = Rig::new(&RigParameters::default()).unwrap();
        assert_eq!(contact_share(&rig, 0.5, 0.0), 0.0);
        assert_eq!(contact_share(&rig, 0.0, 0.0), 1.0);
        let calm = contact_share(&rig, 0.5, 0.5);
        let rough = contact_share(&rig, 0.5, 2.0);
        assert!(calm > 0.0 && rough > calm && rough < 0.5);
    }
}
