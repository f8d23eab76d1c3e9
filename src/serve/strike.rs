//! A fish on, and the kite home: what the crew says of it.

use std::sync::Arc;

use axum::extract::State;
use serde::Deserialize;
use utoipa::ToSchema;

use super::body::Body;
use super::crew::{Answer, record};
use super::problem::Problem;
use super::ranges;
use super::room::Room;
use super::sources::Recorded;
use crate::decode::{CrewInput, StrikeWord};
use crate::units;

/// What the crew says of a strike, or of the kite on its way home.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StrikeSaid {
    /// The kite is to come home, with no fish on.
    Home,
    /// The band is broken and the bait is in.
    BaitIn,
    /// The marker has gone down to the water.
    MarkerDown,
    /// The main line is tight.
    Tight,
    /// The drag is at its hooked setting.
    DragSet,
    /// Where the fish is: with `off_bow_deg`.
    Fish,
    /// The boat is on the advised heading.
    Turned,
    /// The kite is in and secured.
    KiteIn,
    /// The angler has the rod.
    AnglerOn,
    /// Nothing was on: the lines are as they were.
    Missed,
    /// The fish is off the hook.
    FishOff,
    /// The line is cut or parted.
    CutOff,
    /// The fish is landed.
    Landed,
    /// The fish is let go.
    Released,
    /// The kite does not come home after all.
    StaysOut,
}

/// A step that is done, or how it ended.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StrikeBody {
    /// Which.
    pub said: StrikeSaid,
    /// Where the fish is, off the bow, + to starboard; with `fish` only.
    #[serde(default)]
    pub off_bow_deg: Option<f64>,
}

impl StrikeBody {
    fn word(&self) -> Result<StrikeWord, Problem> {
        let off_bow_deg = self
            .off_bow_deg
            .map(|deg| ranges::FISH_OFF_BOW.check(deg))
            .transpose()?;
        match (self.said, off_bow_deg) {
            (StrikeSaid::Fish, Some(deg)) => {
                return Ok(StrikeWord::Fish {
                    off_bow: units::degrees(deg),
                });
            }
            (StrikeSaid::Fish, None) => {
                return Err(Problem::incomplete(
                    "off_bow_deg",
                    "nothing says where the fish is",
                    "send off_bow_deg with fish, + to starboard",
                ));
            }
            (_, Some(_)) => {
                return Err(Problem::incomplete(
                    "off_bow_deg",
                    "it belongs to fish only",
                    "leave it out",
                ));
            }
            (_, None) => {}
        }
        Ok(match self.said {
            StrikeSaid::Home | StrikeSaid::Fish => StrikeWord::Home,
            StrikeSaid::BaitIn => StrikeWord::BaitIn,
            StrikeSaid::MarkerDown => StrikeWord::MarkerDown,
            StrikeSaid::Tight => StrikeWord::Tight,
            StrikeSaid::DragSet => StrikeWord::DragSet,
            StrikeSaid::Turned => StrikeWord::Turned,
            StrikeSaid::KiteIn => StrikeWord::KiteIn,
            StrikeSaid::AnglerOn => StrikeWord::AnglerOn,
            StrikeSaid::Missed => StrikeWord::Missed,
            StrikeSaid::FishOff => StrikeWord::FishOff,
            StrikeSaid::CutOff => StrikeWord::CutOff,
            StrikeSaid::Landed => StrikeWord::Landed,
            StrikeSaid::Released => StrikeWord::Released,
            StrikeSaid::StaysOut => StrikeWord::StaysOut,
        })
    }
}

/// A step of a strike, or of the kite on its way home, is done, or it has ended. A bite begins a
/// strike; `home` begins the way home without a fish. A step answers those before it, too. It ends
/// with the lines out being told again.
#[utoipa::path(post, path = "/v1/crew/strike", tag = "crew",
    security(("phone" = ["crew"])), request_body = StrikeBody,
    responses((status = 202, body = Recorded), (status = 409, body = Problem,
        description = "It is done already, or nothing of the kind is going on",
        content_type = "application/problem+json")))]
pub(super) async fn strike(State(room): State<Arc<Room>>, Body(body): Body<StrikeBody>) -> Answer {
    let word = body.word()?;
    let _turn = room.answering.lock().await;
    let snapshot = room.snapshot();
    if !snapshot.deck.takes(word) && !room.said.takes(snapshot.at, word) {
        return Err(Problem::not_that_step());
    }
    record(&room, CrewInput::Strike(word)).await
}
