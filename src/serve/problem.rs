//! Errors as RFC 9457 problem details.

use axum::Json;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

use super::setup::{KeyProblem, SettingsRefusal};
use super::taps::{TooFast, Whose};
use crate::decode::{Line, PlanAnswer};
use crate::time::Millis;
use crate::vessel::Answered;
use crate::vessel::UNDO_WINDOW_S;

/// What went wrong and what to do about it (RFC 9457, with `cure`, `field`, `keys` and
/// `retry_after_s` as extensions).
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Problem {
    /// Names the kind of problem: "urn:skimwatch:problem:out-of-range".
    #[serde(rename = "type")]
    pub kind: &'static str,
    /// The kind in words.
    pub title: &'static str,
    /// HTTP status.
    pub status: u16,
    /// What is wrong this time.
    pub detail: String,
    /// What to do about it.
    pub cure: String,
    /// The field at fault; absent when it is no single field.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<&'static str>,
    /// Complaints by key of the settings; absent when there are none.
    #[serde(skip_serializing_if = "<[KeyProblem]>::is_empty")]
    #[schema(value_type = Vec<KeyProblem>, required = false)]
    pub keys: Box<[KeyProblem]>,
    /// Whole seconds after which to try again, as in the header `Retry-After`; absent where that
    /// would change nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub retry_after_s: Option<u16>,
}

impl Problem {
    pub(super) fn new(
        status: StatusCode,
        kind: &'static str,
        title: &'static str,
        detail: impl Into<String>,
        cure: impl Into<String>,
    ) -> Self {
        Self {
            kind,
            title,
            status: status.as_u16(),
            detail: detail.into(),
            cure: cure.into(),
            field: None,
            keys: Box::default(),
            retry_after_s: (status == StatusCode::SERVICE_UNAVAILABLE).then_some(1),
        }
    }

    /// A number outside its range.
    pub(super) fn out_of_range(field: &'static str, value: f64, allowed: &str) -> Self {
        Self {
            field: Some(field),
            ..Self::new(
                StatusCode::UNPROCESSABLE_ENTITY,
                "urn:skimwatch:problem:out-of-range",
                "Value out of range",
                format!("{field} is {value}"),
                format!("send {field} within {allowed}"),
            )
        }
    }

    /// A body that says too little or contradicts itself.
    pub(super) fn incomplete(field: &'static str, detail: &str, cure: &str) -> Self {
        Self {
            field: Some(field),
            ..Self::new(
                StatusCode::UNPROCESSABLE_ENTITY,
                "urn:skimwatch:problem:incomplete",
                "Body incomplete",
                detail,
                cure,
            )
        }
    }

    /// A body that cannot be read as what the route wants.
    pub(super) fn unreadable(
        status: StatusCode,
        detail: impl Into<String>,
        cure: impl Into<String>,
    ) -> Self {
        Self::new(
            status,
            "urn:skimwatch:problem:unreadable-body",
            "Body not understood",
            detail,
            cure,
        )
    }

    /// A query that cannot be read as what the route wants.
    pub(super) fn unreadable_query(detail: &str) -> Self {
        Self::new(
            StatusCode::BAD_REQUEST,
            "urn:skimwatch:problem:unreadable-query",
            "Query not understood",
            detail,
            "send the parameters that /v1/docs names for this path",
        )
    }

    /// A path with a part that is no text.
    pub(super) fn unreadable_path(detail: &str) -> Self {
        Self::new(
            StatusCode::BAD_REQUEST,
            "urn:skimwatch:problem:unreadable-path",
            "Path not understood",
            detail,
            "send UTF-8, percent-encoded",
        )
    }

    /// A path that leads nowhere.
    pub(super) fn no_such_path(path: &str) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:no-such-path",
            "No such path",
            format!("nothing is served at {path}"),
            "see /v1/docs for what there is",
        )
    }

    /// Days of a logbook that there is not.
    pub(super) fn no_logbook(detail: &str) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:no-logbook",
            "No logbook",
            detail,
            "the boat's own daemon keeps one (`skimwatch run`)",
        )
    }

    /// A logbook that cannot be read now.
    pub(super) fn logbook_unreadable(detail: &str) -> Self {
        Self::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "urn:skimwatch:problem:logbook-unreadable",
            "Logbook not readable",
            detail,
            "try again; if it stays so, look at logbook in /v1/state",
        )
    }

    /// A day that cannot be written in a format.
    pub(super) fn not_exported(detail: &str) -> Self {
        Self::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "urn:skimwatch:problem:not-exported",
            "Not written in this format",
            detail,
            "take another format, and please report it",
        )
    }

    /// A day that is no date.
    pub(super) fn no_date(day: &str) -> Self {
        Self::new(
            StatusCode::BAD_REQUEST,
            "urn:skimwatch:problem:no-date",
            "Not a date",
            format!("{day:?} is no date"),
            "name the day as year-month-day: 2026-06-01",
        )
    }

    /// A day of which nothing is logged.
    pub(super) fn no_such_day(day: &str) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:no-such-day",
            "No such day",
            format!("the logbook holds nothing of {day}"),
            "take a day from /v1/days",
        )
    }

    /// A path with another method.
    pub(super) fn wrong_method(method: &str, path: &str) -> Self {
        Self::new(
            StatusCode::METHOD_NOT_ALLOWED,
            "urn:skimwatch:problem:wrong-method",
            "Method not allowed",
            format!("{path} does not take {method}"),
            "use a method named in the Allow header",
        )
    }

    /// An advisory that is not alive.
    pub(super) fn no_such_advisory(id: &str) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:no-such-advisory",
            "No such advisory",
            format!("no living advisory has the id {id:?}"),
            "take an id from /v1/advisories; an ended advisory needs no acknowledgement",
        )
    }

    /// A mark that is not there.
    pub(super) fn no_such_mark(number: u32) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:no-such-mark",
            "No such mark",
            format!("no mark has the number {number}"),
            "take a number from /v1/marks",
        )
    }

    /// A source that is not heard.
    pub(super) fn no_such_source(name: &str) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:no-such-source",
            "No such source",
            format!("no instrument is heard as {name:?}"),
            "take a name from `sources` of /v1/state",
        )
    }

    /// A mark of the network, which only the network can change.
    pub(super) fn mark_of_network(number: u32) -> Self {
        Self::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:mark-of-network",
            "Mark of the network",
            format!("mark {number} is told by the network, which names and moves it"),
            "remove it here, or mark the place anew by its position",
        )
    }

    /// Something seen from the boat, while nobody knows where the boat is or which way it points.
    pub(super) fn boat_unknown(what: &str) -> Self {
        Self::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:boat-unknown",
            "Not known from where it is seen",
            format!("the boat's {what} is not known now"),
            "send latitude_deg and longitude_deg, or look at the feeds on the rig page",
        )
    }

    /// A place near a pole.
    pub(super) fn near_pole(why: &crate::geodesy::NoWay) -> Self {
        Self::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "urn:skimwatch:problem:near-pole",
            "No bearings there",
            why.to_string(),
            "mark places up to 89 degrees north and south",
        )
    }

    /// An answer that has been given already; nothing is counted twice.
    pub(super) fn answered(earlier: &Answered, at: Millis) -> Self {
        let line = match earlier.asked.line {
            Line::Kite => "kite line",
            Line::Main => "main line",
        };
        let answer = match earlier.answer {
            PlanAnswer::Done => "done",
            PlanAnswer::Half => "half done",
            PlanAnswer::Other => "something else done",
        };
        Self::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:answered-already",
            "Answered already",
            format!(
                "somebody answered for the {line} {:.0} s ago: {answer}; it is not counted twice",
                at.seconds_since(earlier.at).max(0.0)
            ),
            "if more was moved since, tell it as line given or taken",
        )
    }

    /// An answer where no advisory asks for line.
    pub(super) fn nothing_asked() -> Self {
        Self::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:nothing-asked",
            "Nothing to answer",
            "no advisory asks for line now",
            "tell line that was moved as line given or taken",
        )
    }

    /// A step of the strike that is done, or that nobody asks for.
    pub(super) fn not_that_step() -> Self {
        Self::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:not-that-step",
            "Not that step now",
            "that step is done already, or no fish is on and the kite is not on its way home"
                .to_owned(),
            "read strike in /v1/state: it names the step that is asked for",
        )
    }

    /// A pass that is not offered, or not accepted.
    pub(super) fn not_that_pass() -> Self {
        Self::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:not-that-pass",
            "Not that pass now",
            "no plan over that mark is offered, or none was accepted".to_owned(),
            "read pass in /v1/state: it says what is offered and for which mark",
        )
    }

    /// An input that was never said, or long ago.
    pub(super) fn nothing_to_undo(sequence: u32) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:nothing-to-undo",
            "Nothing to take back",
            format!(
                "input number {sequence} was not said in the last {UNDO_WINDOW_S} s, or is taken back already"
            ),
            "say again what is so now; a program names the sequence of an answer once and in time, and not that of seen, silence or fishing",
        )
    }

    /// A request from a page of another host.
    pub(super) fn foreign_page(origin: &str) -> Self {
        Self::new(
            StatusCode::FORBIDDEN,
            "urn:skimwatch:problem:foreign-page",
            "Not from our own page",
            format!("the request comes from a page of {origin}"),
            "ask from skimwatch's own pages or from a program that is no web page",
        )
    }

    /// A request that does not say, or says more than once, which host it is for (RFC 9112 section
    /// 3.2).
    pub(super) fn not_one_host(count: usize) -> Self {
        Self::new(
            StatusCode::BAD_REQUEST,
            "urn:skimwatch:problem:not-one-host",
            "Not one Host",
            format!("the request has {count} Host headers"),
            "send the header Host once, with the address and port that are asked",
        )
    }

    /// A post too soon after many others.
    pub(super) fn too_fast(too_fast: TooFast) -> Self {
        let after_s = too_fast.after_s;
        let detail = match too_fast.whose {
            Whose::Client => "this phone or program has posted too much in too short a time",
            Whose::All => {
                "all phones and programs together have posted too much in too short a time"
            }
        };
        Self {
            retry_after_s: Some(after_s),
            ..Self::new(
                StatusCode::TOO_MANY_REQUESTS,
                "urn:skimwatch:problem:too-fast",
                "Too many posts",
                detail,
                format!("try again in {after_s} s; nothing of this one was taken"),
            )
        }
    }

    /// A request to a name that may be somebody else's.
    pub(super) fn unknown_host(host: &str) -> Self {
        Self::new(
            StatusCode::MISDIRECTED_REQUEST,
            "urn:skimwatch:problem:unknown-host",
            "Not a name of ours",
            format!("the request is for the host \"{host}\", which may be a trap of another site"),
            "use the address that the log names at the start, or add the name to names in [serve]",
        )
    }

    /// The stamper refused the input.
    pub(super) fn refused(why: String) -> Self {
        Self::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:refused",
            "Crew input refused",
            why,
            "look at /v1/state and send what fits it",
        )
    }

    /// A change of settings that was refused; nothing was changed.
    pub(super) fn settings(refusal: SettingsRefusal) -> Self {
        match refusal {
            SettingsRefusal::Wrong(complaints) => {
                let said: Vec<_> = complaints
                    .iter()
                    .map(|complaint| format!("{}: {}", complaint.key, complaint.problem))
                    .collect();
                Self {
                    keys: complaints.into_iter().map(KeyProblem::from).collect(),
                    ..Self::new(
                        StatusCode::UNPROCESSABLE_ENTITY,
                        "urn:skimwatch:problem:settings-wrong",
                        "Settings refused",
                        said.join("; "),
                        "see each key; nothing was changed",
                    )
                }
            }
            SettingsRefusal::NotSaved { detail, cure } => Self::new(
                StatusCode::CONFLICT,
                "urn:skimwatch:problem:settings-not-saved",
                "Settings not saved, nothing was changed",
                detail,
                cure,
            ),
            SettingsRefusal::Ended => Self::not_taking_input("nothing takes settings now"),
        }
    }

    /// A change of settings that names no key, or far too many.
    pub(super) fn number_of_keys(count: usize, most: usize) -> Self {
        Self::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "urn:skimwatch:problem:incomplete",
            "Body incomplete",
            format!("{count} keys are given"),
            format!("send an object of 1 to {most} keys and values; GET /v1/settings lists them"),
        )
    }

    /// The stamper does not answer.
    pub(super) fn not_taking_input(why: &str) -> Self {
        Self::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "urn:skimwatch:problem:not-taking-input",
            "Crew input not taken",
            why,
            "try again; if it stays so, look at the program's log",
        )
    }

    /// Too many requests or streams at once, or one that took too long.
    pub(super) fn busy(detail: &str) -> Self {
        Self::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "urn:skimwatch:problem:busy",
            "Too busy",
            detail,
            "try again in a second; close pages that nobody looks at",
        )
    }

    /// A value that could not be written as JSON.
    pub(super) fn unwritable(why: &serde_json::Error) -> Self {
        Self::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "urn:skimwatch:problem:unwritable",
            "Answer could not be written",
            why.to_string(),
            "report this with the recording of the minute before",
        )
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let retry_after_s = self.retry_after_s;
        let mut response = (status, Json(self)).into_response();
        response.headers_mut().insert(
            header::CONTENT_TYPE,
            HeaderValue::from_static("application/problem+json"),
        );
        if let Some(after_s) = retry_after_s {
            response
                .headers_mut()
                .insert(header::RETRY_AFTER, HeaderValue::from(after_s));
        }
        if status == StatusCode::UNAUTHORIZED {
            response.headers_mut().insert(
                header::WWW_AUTHENTICATE,
                HeaderValue::from_static("Bearer realm=\"skimwatch\""),
            );
        }
        response
    }
}
