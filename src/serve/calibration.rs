//! What the boat's own turns show of her instruments, and corrections that the crew puts on.
//!
//! In: the last picture, and which estimate is to be applied. Out: estimates and corrections in degrees
//! and factors, and crew sentences. Only what is estimated can be applied: no number comes from a phone.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::body::Body;
use super::corrected::{CorrectedAnswer, CorrectionUnit, corrected};
use super::crew::{Answer, record};
use super::problem::Problem;
use super::read::fresh;
use super::room::Room;
use super::sources::Recorded;
use crate::calibrate::{Estimate, Found, Term};
use crate::decode::{CorrectBy, Correctable, Correction, CrewInput};
use crate::time::Millis;
use crate::units::{degrees_per_second, radians};

/// One number of an estimate, in the unit of the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub(super) struct TermAnswer {
    /// Correction in all, on what the instrument sends.
    total: f64,
    /// What is still to be corrected beyond what is in force.
    left: f64,
    /// Standard deviation of both.
    sigma: f64,
}

/// What was found of one instrument.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(super) struct EstimateAnswer {
    /// Of what.
    what: Correctable,
    /// Talker of its sentences; `null` while nothing is heard of it.
    talker: Option<String>,
    /// Turns behind it.
    turns: u32,
    /// Unit of the numbers.
    unit: CorrectionUnit,
    /// One number; of the compass three, as `by` of a correction. Empty when it is not known.
    terms: Vec<TermAnswer>,
    /// Why it is not known, in words; `null` when it is.
    not_known: Option<String>,
    /// Whether what is left is more than three standard deviations and more than idle: then it can be
    /// applied.
    significant: bool,
    /// What it cannot be told apart from, in words.
    caution: &'static str,
    /// The correction in force; `null` when there is none.
    corrected: Option<CorrectedAnswer>,
}

impl EstimateAnswer {
    fn new(estimate: &Estimate, corrected: &[CorrectedAnswer]) -> Self {
        let unit = CorrectionUnit::of(estimate.what);
        let term = |term: &Term| TermAnswer {
            total: unit.shown(term.total),
            left: unit.shown(term.left),
            sigma: unit.shown(term.sigma),
        };
        let found = estimate.found.as_ref();
        Self {
            what: estimate.what,
            talker: estimate.talker.map(|talker| talker.to_string()),
            turns: estimate.turns,
            unit,
            terms: found.map_or_else(
                |_| Vec::new(),
                |found| found.terms.iter().map(term).collect(),
            ),
            not_known: found.err().cloned(),
            significant: estimate.is_significant(),
            caution: estimate.caution,
            corrected: corrected
                .iter()
                .find(|corrected| corrected.what == estimate.what)
                .cloned(),
        }
    }
}

/// What the boat's own turns show of the errors of her instruments.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(super) struct CalibrationAnswer {
    /// Moment of the tick.
    #[schema(value_type = String, format = DateTime)]
    at: Millis,
    /// One for each thing that can be corrected.
    estimates: Vec<EstimateAnswer>,
}

/// What the boat's own turns show of the errors of vane, cups, log, compass and rate of turn: the
/// correction that each needs, its standard deviation, and the turns behind it; or why that is not
/// known yet. Estimates, not certainties: each says what it cannot be told apart from.
#[utoipa::path(get, path = "/v1/calibration", tag = "read",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "Estimates", body = CalibrationAnswer)))]
pub(super) async fn calibration(State(room): State<Arc<Room>>) -> Response {
    let snapshot = room.snapshot();
    let corrected = corrected(&snapshot.deck.corrections);
    let estimates = snapshot.calibration.estimates.iter();
    fresh(Json(CalibrationAnswer {
        at: snapshot.at,
        estimates: estimates
            .map(|estimate| EstimateAnswer::new(estimate, &corrected))
            .collect(),
    }))
}

/// Which instrument, and whether it is to be corrected.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CorrectionBody {
    /// Of what.
    what: Correctable,
    /// True to correct it by what is estimated now, false to correct it no more.
    on: bool,
}

/// Corrects an instrument by what is estimated of it now, or corrects it no more. From then on what
/// it sends is corrected before anything is made of it. It can be taken back like anything that the
/// crew says.
#[utoipa::path(post, path = "/v1/crew/correction", tag = "crew",
    security(("phone" = ["crew"])), request_body = CorrectionBody,
    responses((status = 202, body = Recorded), (status = 409, body = Problem,
        description = "Nothing is known that should be corrected, or nothing is corrected",
        content_type = "application/problem+json")))]
pub(super) async fn correction(
    State(room): State<Arc<Room>>,
    Body(body): Body<CorrectionBody>,
) -> Answer {
    let snapshot = room.snapshot();
    let what = body.what;
    if !body.on {
        let said = snapshot.deck.corrections.said();
        if !said
            .iter()
            .any(|(_, correction)| correction.by.what() == what)
        {
            return Err(Problem::new(
                StatusCode::CONFLICT,
                "urn:skimwatch:problem:not-corrected",
                "Not corrected",
                "this is not corrected",
                "read /v1/calibration: corrected says what is in force",
            ));
        }
        return record(&room, CrewInput::Uncorrect(what)).await;
    }
    let correction = snapshot
        .calibration
        .of(what)
        .filter(|estimate| estimate.is_significant())
        .and_then(|estimate| {
            Some(Correction {
                talker: estimate.talker?,
                by: by(what, estimate.found.as_ref().ok()?)?,
            })
        });
    let Some(correction) = correction else {
        return Err(Problem::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:nothing-to-correct",
            "Nothing to correct",
            "what is known of this instrument does not call for a correction",
            "go on turning: read /v1/calibration for what is known and why not more",
        ));
    };
    record(&room, CrewInput::Correct(correction)).await
}

/// The whole correction.
fn by(what: Correctable, found: &Found) -> Option<CorrectBy> {
    let first = found.terms.first()?.total;
    let part = |i: usize| found.terms.get(i).map(|term| radians(term.total));
    Some(match what {
        Correctable::WindAngle => CorrectBy::WindAngle(radians(first)),
        Correctable::WindSpeed => CorrectBy::WindSpeed(first),
        Correctable::Log => CorrectBy::Log(first),
        Correctable::Compass => CorrectBy::Compass {
            offset: part(0)?,
            sine: part(1)?,
            cosine: part(2)?,
        },
        Correctable::RateOfTurn => CorrectBy::RateOfTurn(degrees_per_second(first.to_degrees())),
    })
}
