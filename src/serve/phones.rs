//! Phones: what this one may do, joining with a code, and for keepers the list, invitations and
//! taking out.

use std::sync::{Arc, PoisonError};

use axum::Json;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::Response;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::body::Body;
use super::link::Link;
use super::problem::Problem;
use super::read::fresh;
use super::room::Room;
use super::seats::Client;
use super::sources::Sources;
use super::who::{Asker, Shown, cookie, cookie_of};
use crate::access::{JoinRefused, NAME_MAX, Need, Phone, PhoneName, Role, Visitor};
use crate::record::KeptIn;
use crate::time::Millis;

/// Where the certificate is that phones can be made to trust.
pub const CERTIFICATE: &str = "/boat-certificate.crt";

/// What a phone may do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct PhoneAnswer {
    /// Whether changing anything needs a phone that has joined. Where not, everybody on the network
    /// may.
    pub locked: bool,
    /// Whether it may read.
    pub may_look: bool,
    /// Whether it may tell what happens on deck.
    pub may_touch: bool,
    /// Whether it may change settings, and let phones in and take them out.
    pub may_keep: bool,
    /// The name under which it has joined; `null` when it has not.
    pub name: Option<String>,
    /// What it has joined as.
    pub role: Option<Role>,
    /// Whether it shows a token that is no longer good: it was taken out.
    pub was_taken_out: bool,
    /// Whether what it sends and reads is encrypted. Where not, whoever is on the network can read
    /// its token.
    pub encrypted: bool,
    /// What it can be made to trust; `null` where the boat has a certificate of its own, or none.
    pub certificate: Option<CertificateAnswer>,
}

/// The certificate of the local authority.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct CertificateAnswer {
    /// Where it is.
    #[schema(example = "/boat-certificate.crt")]
    pub path: &'static str,
    /// SHA-256 of it, as phones show it.
    pub sha256: String,
}

impl PhoneAnswer {
    fn new(sources: &Sources, visitor: &Visitor, link: Link) -> Self {
        let encryption = sources.encryption.as_ref();
        let authority = encryption.and_then(|encryption| encryption.authority.as_ref());
        Self {
            locked: sources.access.locks().touch,
            may_look: visitor.may >= Need::Look,
            may_touch: visitor.may >= Need::Crew,
            may_keep: visitor.may >= Need::Keeper,
            name: visitor.name.as_deref().map(str::to_owned),
            role: visitor.role,
            was_taken_out: visitor.was_taken_out,
            encrypted: link == Link::Encrypted,
            certificate: authority.map(|authority| CertificateAnswer {
                path: CERTIFICATE,
                sha256: authority.fingerprint.clone(),
            }),
        }
    }
}

/// A phone that joins.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JoinBody {
    /// The code: eight digits; blanks and hyphens do not count.
    #[schema(max_length = 20, example = "1234 5678")]
    pub code: String,
    /// A name for it: letters, digits, blanks, hyphens, apostrophes.
    #[schema(
        max_length = 24,
        pattern = "^[A-Za-z0-9 '-]+$",
        example = "mate's phone"
    )]
    pub name: String,
    /// How its token is kept: by a browser as a cookie, or by a program that is told it and shows
    /// it as a bearer.
    #[serde(default)]
    pub token: TokenAs,
}

/// How a token is handed out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TokenAs {
    /// As a cookie that no script can read.
    #[default]
    Cookie,
    /// In the answer.
    Bearer,
}

/// A phone has joined.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct JoinAnswer {
    /// The phone.
    pub phone: PhoneRow,
    /// Where that is kept; from memory a restart does not bring it back.
    pub kept: KeptIn,
    /// The token, for a program that asked for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bearer: Option<String>,
}

/// A phone that has joined.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct PhoneRow {
    /// Its number.
    #[schema(format = Int64)]
    pub number: u32,
    /// Its name.
    pub name: String,
    /// What it may do.
    pub role: Role,
    /// When it joined, by the boat computer's clock.
    #[schema(value_type = String, format = DateTime)]
    pub joined_at: Millis,
    /// Whether it is the one that asks.
    pub is_this: bool,
}

impl PhoneRow {
    fn new(phone: &Phone, asks: Option<u32>) -> Self {
        Self {
            number: phone.number,
            name: phone.name.to_string(),
            role: phone.role,
            joined_at: phone.joined_at(),
            is_this: asks == Some(phone.number),
        }
    }
}

/// Whom to let in.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InviteBody {
    /// What the phone will be that uses the code.
    pub role: Role,
}

/// A code to join with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct InviteAnswer {
    /// Eight digits, good for one phone.
    pub code: String,
    /// What that phone will be.
    pub role: Role,
    /// Seconds for which it is good.
    pub good_for_s: u64,
}

/// A phone was taken out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct TakenOutAnswer {
    /// Which.
    pub phone: PhoneRow,
    /// Where that is kept; from memory a restart brings the phone back.
    pub kept: KeptIn,
}

fn kept(is_saved: bool) -> KeptIn {
    if is_saved {
        KeptIn::Disk
    } else {
        KeptIn::Memory
    }
}

fn with_cookie(mut response: Response, cookie: &str) -> Response {
    if let Ok(cookie) = HeaderValue::from_str(cookie) {
        response.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    response
}

/// What the phone or program that asks may do.
#[utoipa::path(get, path = "/v1/phone", tag = "phones",
    operation_id = "phone",
    security(()),
    responses((status = 200, description = "What it may do", body = PhoneAnswer)))]
pub(super) async fn this(
    State(room): State<Arc<Room>>,
    Asker(visitor): Asker,
    link: Link,
    headers: HeaderMap,
) -> Response {
    let answer = fresh(Json(PhoneAnswer::new(&room.sources, &visitor, link)));
    match Shown::by(&headers) {
        // Browsers forget a cookie that is never set anew.
        Shown::Cookie(token) if visitor.number.is_some() => {
            with_cookie(answer, &cookie(token, link))
        }
        _ => answer,
    }
}

/// The certificate that a phone can be made to trust, so that it opens the pages without a warning.
/// Given over plain HTTP, too: compare its fingerprint with what `skimwatch tls` prints.
#[utoipa::path(get, path = CERTIFICATE, tag = "phones",
    operation_id = "certificate",
    security(()),
    responses((status = 200, description = "The certificate, PEM",
            content_type = "application/x-x509-ca-cert", body = String),
        (status = 404, description = "There is no local authority", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn certificate(State(room): State<Arc<Room>>) -> Result<Response, Problem> {
    let encryption = room.sources.encryption.as_ref();
    let authority = encryption
        .and_then(|encryption| encryption.authority.as_ref())
        .ok_or_else(Problem::no_authority)?;
    let mut answer = fresh(authority.pem.clone());
    answer.headers_mut().insert(
        header::CONTENT_TYPE,
        HeaderValue::from_static("application/x-x509-ca-cert"),
    );
    Ok(answer)
}

/// Joins: a code makes a phone crew or keeper. Each wrong code makes the next wait longer.
#[utoipa::path(post, path = "/v1/phone/join", tag = "phones", request_body = JoinBody,
    security(()),
    responses((status = 200, description = "It has joined", body = JoinAnswer),
        (status = 403, description = "The code is not good", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "Nothing is locked, or the name is taken", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn join(
    State(room): State<Arc<Room>>,
    client: Client,
    link: Link,
    Body(body): Body<JoinBody>,
) -> Result<Response, Problem> {
    let name = PhoneName::new(&body.name).ok_or_else(|| Problem::no_phone_name(NAME_MAX))?;
    let access = room.sources.access.clone();
    if !access.locks().touch {
        return Err(Problem::nothing_locked());
    }
    let now = room.opened.elapsed();
    let may_try = {
        let mut guesses = room.guesses.lock().unwrap_or_else(PoisonError::into_inner);
        guesses.may_try(client, now)
    };
    may_try.map_err(Problem::too_many_codes)?;
    let at = Millis(chrono::Utc::now().timestamp_millis());
    let code = body.code;
    let joining = tokio::task::spawn_blocking(move || access.join(&code, name, at));
    let joined = joining
        .await
        .map_err(|_| Problem::not_taking_input("joining stopped"))?;
    let mut guesses = room.guesses.lock().unwrap_or_else(PoisonError::into_inner);
    match joined {
        Ok(joined) => {
            guesses.right(client);
            let (cookie, bearer) = match body.token {
                TokenAs::Cookie => (Some(cookie_of(&joined.token, link)), None),
                TokenAs::Bearer => (None, Some(joined.token.secret().to_owned())),
            };
            let answer = fresh(Json(JoinAnswer {
                phone: PhoneRow::new(&joined.phone, Some(joined.phone.number)),
                kept: kept(joined.is_saved),
                bearer,
            }));
            Ok(match cookie {
                Some(cookie) => with_cookie(answer, &cookie),
                None => answer,
            })
        }
        Err(why) => {
            if why == JoinRefused::WrongCode
                && let Some(count) = guesses.wrong(client, now)
            {
                tracing::warn!("{count} wrong codes to join with since this was told last");
            }
            Err(Problem::join_refused(why))
        }
    }
}

/// The phones that have joined.
#[utoipa::path(get, path = "/v1/phones", tag = "phones",
    operation_id = "phones",
    security(("phone" = ["keeper"])),
    responses((status = 200, description = "The phones", body = Vec<PhoneRow>)))]
pub(super) async fn list(State(room): State<Arc<Room>>, Asker(visitor): Asker) -> Response {
    let phones = room.sources.access.phones();
    let row = |phone| PhoneRow::new(phone, visitor.number);
    fresh(Json(phones.iter().map(row).collect::<Vec<_>>()))
}

/// A code for one more phone, good for ten minutes.
#[utoipa::path(post, path = "/v1/phones/invite", tag = "phones", request_body = InviteBody,
    security(("phone" = ["keeper"])),
    responses((status = 200, description = "The code", body = InviteAnswer),
        (status = 409, description = "Nothing is locked", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn invite(
    State(room): State<Arc<Room>>,
    Body(body): Body<InviteBody>,
) -> Result<Response, Problem> {
    let access = &room.sources.access;
    if !access.locks().touch {
        return Err(Problem::nothing_locked());
    }
    let invited = access.invite(body.role).map_err(Problem::join_refused)?;
    Ok(fresh(Json(InviteAnswer {
        code: invited.code,
        role: invited.role,
        good_for_s: invited.good_for.as_secs(),
    })))
}

/// Takes a phone out, at once. It may join again with a new code.
#[utoipa::path(delete, path = "/v1/phones/{number}", tag = "phones",
    security(("phone" = ["keeper"])),
    params(("number" = u32, Path, description = "Number of a phone")),
    responses((status = 200, description = "It is out", body = TakenOutAnswer),
        (status = 404, description = "No such phone", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn take_out(
    State(room): State<Arc<Room>>,
    Asker(visitor): Asker,
    number: Result<Path<u32>, PathRejection>,
) -> Result<Response, Problem> {
    let Path(number) = number.map_err(|why| Problem::unreadable_path(&why.body_text()))?;
    let access = room.sources.access.clone();
    let taking_out = tokio::task::spawn_blocking(move || access.take_out(number));
    let (phone, is_saved) = taking_out
        .await
        .map_err(|_| Problem::not_taking_input("taking a phone out stopped"))?
        .ok_or_else(|| Problem::no_such_phone(number))?;
    Ok(fresh(Json(TakenOutAnswer {
        phone: PhoneRow::new(&phone, visitor.number),
        kept: kept(is_saved),
    })))
}
