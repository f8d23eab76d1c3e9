//! Whether kite line, hooked line and the boat keep apart.
//! In: lines in boat axes. Out: the least room, and what takes it.
//!
//! Rules, all own choices: each line keeps the clearance of every structure; neither leads further
//! forward than [`FORWARD_OF_BEAM_RAD`], where it would cross the boat itself; seen from above the
//! two do not cross, so that a kite that drops does not lie over the hooked line. The fish is taken
//! to be anywhere from [`NEAR_M`] to [`FAR_M`] away and within [`SPREAD_RAD`] of where the crew
//! pointed.

use std::f64::consts::{FRAC_PI_2, TAU};

use crate::rig::{Rig, RodTip, Structure};

/// Nearest and furthest fish, m.
pub const NEAR_M: f64 = 15.0;
/// See [`NEAR_M`].
pub const FAR_M: f64 = 300.0;
/// A tap on one of eight directions says no more than this, radians (half a step of 45 degrees).
pub const SPREAD_RAD: f64 = TAU / 16.0;
/// How far forward of the beam a line may lead, radians (20 degrees).
pub const FORWARD_OF_BEAM_RAD: f64 = 0.349;
/// Room between the two lines seen from above, m, where the rod tips are far enough apart.
const LINES_APART_M: f64 = 1.0;
/// Rays of the fish's spread, and distances along each.
const RAYS: i32 = 9;
const DISTANCES_M: [f64; 3] = [NEAR_M, 50.0, FAR_M];

/// The least room, and what takes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fouls {
    /// Room left beyond what is asked, m; negative where something fouls. What leads too far
    /// forward is short by metres at 10 m from the rod.
    pub by_m: f64,
    /// What, in words.
    pub what: String,
}

impl Fouls {
    /// Nothing is near.
    #[must_use]
    pub fn nothing() -> Self {
        Self {
            by_m: f64::INFINITY,
            what: String::new(),
        }
    }

    /// The one with less room.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        if other.by_m < self.by_m { other } else { self }
    }
}

/// What stands where.
#[derive(Debug)]
pub struct Geometry<'a> {
    structures: &'a [Structure],
    kite_tip: RodTip,
    main_tip: RodTip,
    apart_m: f64,
}

/// The hooked line: lines from the rod tip to where the fish may be, in boat axes.
#[derive(Debug)]
pub struct HookedLine {
    off_bow_rad: f64,
    lines_m: Vec<[[f64; 3]; 2]>,
    /// The furthest fish on each ray: seen from above its line covers those of nearer ones.
    farthest_m: Vec<[[f64; 3]; 2]>,
}

impl<'a> Geometry<'a> {
    /// The rod tips of a rig and the structures about them.
    #[must_use]
    pub fn new(rig: &Rig, structures: &'a [Structure]) -> Self {
        let tips = rig.parameters().rod_tips;
        let between_m = (tips.kite.aft_m - tips.main.aft_m)
            .hypot(tips.kite.starboard_m - tips.main.starboard_m);
        Self {
            structures,
            kite_tip: tips.kite,
            main_tip: tips.main,
            apart_m: LINES_APART_M.min(0.5 * between_m),
        }
    }

    /// The hooked line with the fish at this angle off the bow.
    #[must_use]
    pub fn fish(&self, off_bow_rad: f64) -> HookedLine {
        let tip = &self.main_tip;
        let from = [tip.aft_m, tip.starboard_m, tip.height_m];
        let at = |ray: i32, far_m: f64| {
            let by = f64::from(2 * ray) / f64::from(RAYS - 1) - 1.0;
            let (s, c) = (off_bow_rad + by * SPREAD_RAD).sin_cos();
            [from, [from[0] - far_m * c, from[1] + far_m * s, 0.0]]
        };
        HookedLine {
            off_bow_rad,
            lines_m: (0..RAYS)
                .flat_map(|ray| DISTANCES_M.map(|far_m| at(ray, far_m)))
                .collect(),
            farthest_m: (0..RAYS).map(|ray| at(ray, FAR_M)).collect(),
        }
    }

    /// Room that a kite line of this shape leaves, beside a hooked line if there is one.
    #[must_use]
    pub fn kite(&self, line_m: &[[f64; 3]], fish: Option<&HookedLine>) -> Fouls {
        let mut worst = self.structures_from("kite line", line_m);
        let tip = &self.kite_tip;
        if let Some(kite) = line_m.last() {
            let off_bow_rad = (kite[1] - tip.starboard_m).atan2(tip.aft_m - kite[0]);
            worst = worst.or(forward("the kite line", off_bow_rad, 0.0));
        }
        let Some(fish) = fish else {
            return worst;
        };
        let least_m = fish
            .farthest_m
            .iter()
            .flat_map(|ray| line_m.windows(2).map(move |piece| (piece, ray)))
            .map(|(piece, ray)| match piece {
                [a, b] => plan_gap_m((*a, *b), (ray[0], ray[1])),
                _ => f64::INFINITY,
            })
            .fold(f64::INFINITY, f64::min);
        worst.or(Fouls {
            by_m: least_m - self.apart_m,
            what: "the kite line over the hooked line".to_owned(),
        })
    }

    fn structures_from(&self, name: &str, line_m: &[[f64; 3]]) -> Fouls {
        let mut worst = Fouls::nothing();
        for structure in self.structures {
            let by_m = structure.gap_m(line_m.iter().copied()) - structure.clearance_m;
            if by_m < worst.by_m {
                worst = Fouls {
                    by_m,
                    what: format!("the {name} at the {}", structure.name),
                };
            }
        }
        worst
    }
}

impl HookedLine {
    /// Room that it leaves by itself.
    #[must_use]
    pub fn room(&self, geometry: &Geometry<'_>) -> Fouls {
        self.lines_m
            .iter()
            .map(|line| geometry.structures_from("hooked line", line))
            .fold(
                forward("the hooked line", self.off_bow_rad, SPREAD_RAD),
                Fouls::or,
            )
    }
}

/// Room of a line before it leads over the boat, as the distance at 10 m from the rod.
fn forward(what: &str, off_bow_rad: f64, spread_rad: f64) -> Fouls {
    let aft_of_limit_rad = off_bow_rad.abs() - spread_rad - (FRAC_PI_2 - FORWARD_OF_BEAM_RAD);
    Fouls {
        by_m: 10.0 * aft_of_limit_rad.clamp(-FRAC_PI_2, FRAC_PI_2).sin(),
        what: format!("{what} leads over the boat"),
    }
}

/// Least distance of two pieces of line seen from above, m; 0 where they cross.
fn plan_gap_m(a: ([f64; 3], [f64; 3]), b: ([f64; 3], [f64; 3])) -> f64 {
    let flat = |p: [f64; 3]| [p[0], p[1], 0.0];
    Structure {
        name: String::new(),
        from_m: flat(b.0),
        to_m: flat(b.1),
        clearance_m: 0.0,
    }
    .gap_m([flat(a.0), flat(a.1)].into_iter())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::RigParameters;

    #[test]
    fn a_line_forward_of_its_limit_fouls_and_an_aft_one_does_not() {
        // Own arithmetic: 10 m times the sine of the angle from 70 degrees off the bow.
        let at = |deg: f64| forward("it", deg.to_radians(), 0.0).by_m;
        assert!((at(100.0) - 5.0).abs() < 0.01 && (at(-100.0) - 5.0).abs() < 0.01);
        assert!((at(40.0) + 5.0).abs() < 0.01);
        assert!((at(180.0) - 10.0 * 110f64.to_radians().min(FRAC_PI_2).sin()).abs() < 0.01);
    }

    #[test]
    fn lines_that_cross_seen_from_above_foul_however_high_the_kite() {
        // Kite rod to starboard, main rod to port (the invented rig): kite to port and fish to
        // starboard cross, the other way round they do not.
        let rig = Rig::new(&RigParameters::default()).unwrap();
        let geometry = Geometry::new(&rig, &[]);
        let kite = |starboard: f64| vec![[0.3, 1.6, 2.8], [60.0, starboard, 70.0]];
        let fish = geometry.fish(150f64.to_radians());
        assert!(geometry.kite(&kite(-40.0), Some(&fish)).by_m < 0.0);
        let fish = geometry.fish(-150f64.to_radians());
        let room = geometry.kite(&kite(40.0), Some(&fish));
        assert!(room.by_m > 0.5, "{room:?}");
    }

    #[test]
    fn what_is_nearest_is_named() {
        let rig = Rig::new(&RigParameters::default()).unwrap();
        let post = Structure {
            name: "aerial".to_owned(),
            from_m: [5.0, 3.0, 0.0],
            to_m: [5.0, 3.0, 9.0],
            clearance_m: 1.0,
        };
        let structures = [post];
        let geometry = Geometry::new(&rig, &structures);
        // Own arithmetic: the line passes 1.6 - 3 = 1.4 m to port of the post, 0.4 m to spare.
        let room = geometry.kite(&[[0.3, 1.6, 2.8], [60.0, 1.6, 8.0]], None);
        assert!((room.by_m - 0.4).abs() < 0.01, "{room:?}");
        assert_eq!(room.what, "the kite line at the aerial");
    }
}
