//! What goes wrong with phones: one that may not, a code that is not good.

use axum::http::StatusCode;

use super::problem::Problem;
use crate::access::{JoinRefused, Need, Visitor};

/// Where a code comes from.
const GET_A_CODE: &str = "join at /phone with a code from a keeper's phone or the boat's computer";

impl Problem {
    /// Somebody who may not.
    pub(super) fn may_not(visitor: &Visitor, need: Need) -> Self {
        if let Some(name) = &visitor.name {
            return Self::new(
                StatusCode::FORBIDDEN,
                "urn:skimwatch:problem:not-a-keeper",
                "Keepers only",
                format!("{name} is crew, and this needs a keeper's phone"),
                "do it on a keeper's phone; a keeper can let this phone in again as a keeper",
            );
        }
        let detail = match (need, visitor.was_taken_out) {
            (_, true) => "this phone was taken out: it is crew no more",
            (Need::Look, false) => "only phones that have joined may look",
            (_, false) => "this phone may look, not touch",
        };
        Self::new(
            StatusCode::UNAUTHORIZED,
            "urn:skimwatch:problem:not-joined",
            "Crew phones only",
            detail,
            GET_A_CODE,
        )
    }

    /// A phone that could not join.
    pub(super) fn join_refused(why: JoinRefused) -> Self {
        let (status, kind, title, cure) = match why {
            JoinRefused::WrongCode => (
                StatusCode::FORBIDDEN,
                "urn:skimwatch:problem:wrong-code",
                "Code not good",
                "type it again, or get a new one; a code is good for one phone and ten minutes",
            ),
            JoinRefused::NameTaken => (
                StatusCode::CONFLICT,
                "urn:skimwatch:problem:name-taken",
                "Name taken",
                "give another name, or have a keeper take the other phone out; the code stays good",
            ),
            JoinRefused::Full => (
                StatusCode::CONFLICT,
                "urn:skimwatch:problem:too-many-phones",
                "Too many phones",
                "have a keeper take out phones that are not aboard any more",
            ),
            JoinRefused::NoRandomness => (
                StatusCode::SERVICE_UNAVAILABLE,
                "urn:skimwatch:problem:no-randomness",
                "No random numbers",
                "try again; if it stays so, restart the boat's computer",
            ),
        };
        Self::new(status, kind, title, why.to_string(), cure)
    }

    /// A name that no phone can have.
    pub(super) fn no_phone_name(most: usize) -> Self {
        Self {
            field: Some("name"),
            ..Self::new(
                StatusCode::UNPROCESSABLE_ENTITY,
                "urn:skimwatch:problem:no-phone-name",
                "Not a name for a phone",
                "the name is empty, too long, or has other characters than are allowed",
                format!(
                    "send 1 to {most} letters, digits, blanks, hyphens and apostrophes of ASCII"
                ),
            )
        }
    }

    /// A code too soon after wrong ones; it was not looked at.
    pub(super) fn too_many_codes(after_s: u16) -> Self {
        Self {
            retry_after_s: Some(after_s),
            ..Self::new(
                StatusCode::TOO_MANY_REQUESTS,
                "urn:skimwatch:problem:too-many-codes",
                "Too many wrong codes",
                "wrong codes were typed before; this one was not looked at",
                format!("try again in {after_s} s"),
            )
        }
    }

    /// Joining where nobody needs to.
    pub(super) fn nothing_locked() -> Self {
        Self::new(
            StatusCode::CONFLICT,
            "urn:skimwatch:problem:nothing-locked",
            "Nothing is locked",
            "everybody who reaches this program may touch",
            "no phone needs to join; `touch` in [serve] locks",
        )
    }

    /// Something said in plain HTTP where TLS is spoken.
    pub(super) fn not_encrypted() -> Self {
        Self::new(
            StatusCode::FORBIDDEN,
            "urn:skimwatch:problem:not-encrypted",
            "Not encrypted",
            "it came in plain http, where anybody on the network can read it",
            "ask the same at https; if it showed a pass, have a keeper take that phone out",
        )
    }

    /// A certificate to trust that there is not.
    pub(super) fn no_authority() -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:no-authority",
            "No certificate to trust",
            "this boat has no certificate authority of its own",
            "it has one with tls = \"local\" in [serve]",
        )
    }

    /// A phone that is not there.
    pub(super) fn no_such_phone(number: u32) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "urn:skimwatch:problem:no-such-phone",
            "No such phone",
            format!("no phone has the number {number}"),
            "take a number from /v1/phones",
        )
    }
}
