//! The parts aboard: what flies now, and what else is in the locker.
//! In: numbers of the settings. Out: the same, named, and how much line a reel holds.

use crate::rig::{Bait, Kite, KiteLine, MainLineStuff, Marker, RigParameters};

/// Newtons in a pound of force (definition: 0.45359237 kg times 9.80665 m/s2).
pub const NEWTONS_PER_LBF: f64 = 0.453_592_37 * 9.806_65;
/// Drag at the strike and once hooked, pounds of force (common practice: 22 to 24, about 32).
pub const STRIKE_DRAG_LBF: f64 = 23.0;
/// See [`STRIKE_DRAG_LBF`].
pub const HOOKED_DRAG_LBF: f64 = 32.0;

/// A part under the name that the crew gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct Named<T> {
    /// Its name.
    pub name: String,
    /// The part.
    pub part: T,
}

/// The line between swivel and hook.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leader {
    /// Breaking strength, N.
    pub strength_n: f64,
    /// Length, m.
    pub length_m: f64,
}

/// Which line a reel holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReelOf {
    /// The kite line.
    Kite,
    /// The main line.
    Main,
}

/// How much line goes on a spool.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spool {
    /// From its sizes, m.
    Sizes {
        /// Diameter of the bare spool.
        inner_m: f64,
        /// Diameter up to which it is filled.
        outer_m: f64,
        /// Between the flanges.
        width_m: f64,
    },
    /// From the maker's words: so much of a line of that diameter, m.
    Label {
        /// Length.
        length_m: f64,
        /// Diameter of that line.
        diameter_m: f64,
    },
}

impl Spool {
    /// Line of this diameter that it holds, m. Level-wound turns lie side by side and in straight
    /// layers, each filling a square as wide as the line; a loose or uneven spool holds less.
    #[must_use]
    pub fn holds_m(&self, diameter_m: f64) -> f64 {
        match *self {
            Self::Sizes {
                inner_m,
                outer_m,
                width_m,
            } => {
                let room_m3 =
                    std::f64::consts::FRAC_PI_4 * (outer_m * outer_m - inner_m * inner_m) * width_m;
                room_m3 / (diameter_m * diameter_m)
            }
            Self::Label {
                length_m,
                diameter_m: of_m,
            } => length_m * (of_m / diameter_m).powi(2),
        }
    }
}

/// A reel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reel {
    /// What it holds.
    pub of: ReelOf,
    /// How much.
    pub spool: Spool,
}

/// Drags and small parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tackle {
    /// Drag of the main reel at the strike, N.
    pub strike_drag_n: f64,
    /// Drag once hooked, N.
    pub hooked_drag_n: f64,
    /// Greatest drag as a share of the breaking strength.
    pub drag_share: f64,
    /// Main line kept on the reel for a fish that runs, m.
    pub run_m: f64,
    /// Inner diameter of the ring, m.
    pub ring_inner_m: Option<f64>,
    /// Greatest width of the swivel, m.
    pub swivel_m: Option<f64>,
    /// Nose weight of the bait, kg.
    pub nose_weight_kg: Option<f64>,
}

impl Default for Tackle {
    fn default() -> Self {
        Self {
            strike_drag_n: STRIKE_DRAG_LBF * NEWTONS_PER_LBF,
            hooked_drag_n: HOOKED_DRAG_LBF * NEWTONS_PER_LBF,
            drag_share: 0.30,
            run_m: 300.0,
            ring_inner_m: None,
            swivel_m: None,
            nose_weight_kg: None,
        }
    }
}

/// Everything aboard.
#[derive(Debug, Clone, PartialEq)]
pub struct Locker {
    /// What flies now.
    pub flown: RigParameters,
    /// Kite line out at the start, m, where it is set.
    pub kite_line_out_m: Option<f64>,
    /// Wind sensor above the water, m.
    pub wind_sensor_height_m: f64,
    /// Share of its strength up to which a line or the rod holder may be loaded.
    pub overload_share: f64,
    /// Share of its strength up to which the release band may be loaded.
    pub release_share: f64,
    /// How fast the kite draws its line off against the drag, m/s.
    pub kite_give_mps: f64,
    /// How fast main line runs out under the hand, m/s.
    pub main_give_mps: f64,
    /// Drags and small parts.
    pub tackle: Tackle,
    /// Other kites.
    pub kites: Vec<Named<Kite>>,
    /// Other kite lines.
    pub kite_lines: Vec<Named<KiteLine>>,
    /// Other main lines.
    pub main_lines: Vec<Named<MainLineStuff>>,
    /// Leaders; the first is in use.
    pub leaders: Vec<Named<Leader>>,
    /// Other release bands, by the load at which they let go, N.
    pub bands: Vec<Named<f64>>,
    /// Other baits.
    pub baits: Vec<Named<Bait>>,
    /// Other markers.
    pub markers: Vec<Named<Marker>>,
    /// Reels; the first of each line is in use.
    pub reels: Vec<Named<Reel>>,
}

impl Locker {
    /// Nothing but what flies now.
    #[must_use]
    pub fn of(flown: RigParameters) -> Self {
        Self {
            flown,
            kite_line_out_m: None,
            wind_sensor_height_m: 10.0,
            overload_share: 0.5,
            release_share: 0.8,
            kite_give_mps: 1.5,
            main_give_mps: 1.5,
            tackle: Tackle::default(),
            kites: Vec::new(),
            kite_lines: Vec::new(),
            main_lines: Vec::new(),
            leaders: Vec::new(),
            bands: Vec::new(),
            baits: Vec::new(),
            markers: Vec::new(),
            reels: Vec::new(),
        }
    }

    /// Names of the parts that satisfy a condition.
    pub(super) fn names<T>(parts: &[Named<T>], good: impl Fn(&T) -> bool) -> Vec<String> {
        parts
            .iter()
            .filter(|named| good(&named.part))
            .map(|named| named.name.clone())
            .collect()
    }
}
