//! Serve: the HTTP room.
//!
//! In: the snapshot of each tick, the revisions of advisories, the logbook, a listener and the shutdown token, all
//! passed in by the driver. Out: the API under `/v1`, the event streams, `/healthz`, `/metrics`, the
//! pages, and what the crew posts: to the stamper, so that it is recorded and takes effect as a crew
//! sentence, or, for changes of settings, to their keeper.
//! It must not know feeds, the rig model, how a forecast is made or how an advisory is raised;
//! it changes nothing itself.
//!
//! # Decisions
//!
//! - **Look or touch.** Each handler declares in its `security` what it needs; the table of routes
//!   (`doors`) is made from the interface document, and the gate refuses what is not in it. Who has
//!   what is the business of `access`.
//! - **Other sites.** Posts from another site's page are refused, and so is every request for a host
//!   name that another site could own and let resolve to this computer. A change that shows a cookie
//!   must also name its page (`Origin`).
//! - **One port, encrypted or not.** With a certificate, whoever speaks TLS is answered, and plain HTTP
//!   from another computer is led to https, so that addresses that phones know go on working; only
//!   the authority's certificate is given in plain, for a phone that does not trust it yet. This
//!   computer itself may go on in plain HTTP: the console's commands need no trust.
//! - **Cookies** belong to a host name, whatever port and scheme. One that is set over TLS is `Secure`:
//!   plain HTTP never shows it, and a phone must join anew after TLS is turned off. One from before
//!   TLS is made `Secure` when the phone comes back over https, but was readable until then: who
//!   fears for it takes the phone out and lets it in again.
//! - **No HSTS.** It would bar a phone for months from a boat whose certificate was lost or whose TLS
//!   was turned off, on every port of that name, and let nobody pass. A redirect is enough where the
//!   cookie is `Secure`.
//! - **In whose name.** A request's name goes along with its task (`who`), so that no handler can
//!   forget to pass it on to the recording.
//! - **Answers to a plan.** `POST /v1/crew/plan` without `asked` answers what is asked first, and
//!   is refused (409) within 10 s of another answer.
//! - **Undo.** `POST /v1/crew/undo` answers 404 for a number that was not handed out in the last 15
//!   s of the boat's time, or that is taken back already, because the deck would ignore it.
//! - **Slow phones** skip pictures instead of being shown old ones: the system is given little that
//!   it has not sent yet (`guarded_stream`).
//! - **Our own API viewer** at `/v1/docs`: common viewers weigh megabytes and show their own brand.

mod app;
mod assets;
mod body;
mod bucket;
mod calibration;
mod change;
mod corrected;
mod counters;
mod crew;
mod crew_launch;
mod days;
mod describe;
mod doors;
mod export;
mod gate;
mod guard;
mod guarded_stream;
mod guesses;
mod hub;
mod instrument;
mod launch_state;
mod limits;
mod link;
mod marks;
mod marks_state;
mod metric_list;
mod metrics;
mod outlets;
mod pass;
mod phones;
mod problem;
mod problem_phone;
mod quantities;
mod ranges;
mod read;
mod recorder;
mod rig_today;
mod room;
mod said;
mod seats;
mod setup;
mod sources;
mod state;
mod streams;
mod strike;
mod strike_state;
mod taps;
mod vessel_state;
mod who;

pub use app::{Bind, ServeError, app, bind, run};
pub use crew::{
    AskedBody, BaitBody, BearingBody, ElevationBody, Fishing, LinesOutBody, MarkerBody, MovedBody,
    PlanBody, SessionBody, SilenceBody, TurnBody, UndoBody,
};
pub use crew_launch::{LaunchBody, LaunchStepBody};
pub use days::DayAnswer;
pub use hub::AdvisoryHub;
pub use instrument::InstrumentBody;
pub use launch_state::LaunchState;
pub use marks::{DriftBody, MarkBody, MarkNameBody};
pub use marks_state::MarkAnswer;
pub use outlets::{LivingTold, NumbersTold};
pub use pass::PassBody;
pub use phones::{
    CERTIFICATE, CertificateAnswer, InviteAnswer, InviteBody, JoinAnswer, JoinBody, PhoneAnswer,
    PhoneRow, TakenOutAnswer, TokenAs,
};
pub use problem::Problem;
pub use read::{ForecastAnswer, Health};
pub use recorder::RecorderAnswer;
pub use setup::{KeyProblem, SettingsAnswer, SettingsPost, SettingsRefusal};
pub use sources::{
    CrewPost, CrewReply, JournalNow, JournalState, OutletKind, OutletNow, OutletState, Recorded,
    Sources,
};
pub use state::StateAnswer;
pub use strike::{StrikeBody, StrikeSaid};
pub use strike_state::StrikeAnswer;
