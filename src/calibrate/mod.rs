//! Calibrate: what the boat's own turns show of the errors of her instruments.
//!
//! In: [`Measured`](crate::vessel::Measured), what the instruments send, about once a second, and the
//! corrections that the crew has put on. Out: [`CalibrationNow`]: for vane, cups, log, compass and
//! rate of turn the correction that they need, with its standard deviation, the turns behind it, or
//! why it is not known. It must not know the forecast, nor put a correction on: only the crew does.
//!
//! Files import in one direction: `filter`, `stretch`, `shape` -> `ground`, `wind`, `rate` ->
//! `calibrator`.
//!
//! # Decisions
//!
//! - **Pieces of course.** What is measured is averaged over 10 s on a steady heading. Turns are left
//!   out (course and speed over ground lag behind); what differs between before and after tells the
//!   errors. Only the rate of turn is followed through the turns.
//! - **Nuisances are followed along**: current, true wind with its gusts, leeway, the gyro's scale.
//!   What they could explain is not taken for an error, and shows as uncertainty. See `ground`, `wind`
//!   and `rate` for the physics and its assumptions.
//! - **Estimates are of what the instrument sends**, corrections taken out. So putting one on or taking
//!   it off changes only what is left of the error, and nothing is learnt anew.
//! - **Another instrument, another error**: when the vessel believes another source, its estimate
//!   begins anew. Estimates are not kept over a restart; corrections are.
//! - **Never sure.** An estimate is shown from three turns on, offered when it is more than three
//!   standard deviations and more than idle (`LEAST` in `calibrator`), and says what it cannot be told
//!   apart from. Three, not two: it is looked at all day, and among hundreds of looks two deviations
//!   come by chance (at two, half of the invented honest boats were offered a correction within 2 h).
//!   A floor (`FLOOR`) for what the model leaves out is added to the statistical deviation.
//! - **Bounded**: five small filters and two pieces of course; no record is kept.

mod calibrator;
mod filter;
mod ground;
mod rate;
mod shape;
mod stretch;
mod wind;

pub use calibrator::Calibrator;
pub use shape::{CalibrationNow, Estimate, Found, LEAST_TURNS, SIGNIFICANT, Term};
