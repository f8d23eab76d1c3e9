//! JSON bodies: objects alone, and a [`Problem`] for what does not fit.

use std::fmt;
use std::marker::PhantomData;

use axum::Json;
use axum::extract::rejection::JsonRejection;
use axum::extract::{FromRequest, Request};
use axum::http::StatusCode;
use serde::de::value::MapAccessDeserializer;
use serde::de::{DeserializeOwned, MapAccess, Visitor};
use serde::{Deserialize, Deserializer};

use super::problem::Problem;

/// Longest body that is read.
pub(super) const BODY_MAX_BYTES: usize = 16 * 1024;

/// A JSON object; what does not fit is answered with a [`Problem`].
#[derive(Debug)]
pub(super) struct Body<T>(pub T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequest<S> for Body<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        match Json::<Object<T>>::from_request(request, state).await {
            Ok(Json(Object(body))) => Ok(Self(body)),
            Err(rejection) => Err(unreadable(rejection.status(), words(&rejection))),
        }
    }
}

/// A body that cannot be read as what the route wants.
pub(super) fn unreadable(status: StatusCode, detail: impl Into<String>) -> Problem {
    let cure = match status {
        StatusCode::PAYLOAD_TOO_LARGE => {
            format!("send at most {BODY_MAX_BYTES} bytes; no route needs more")
        }
        _ => "send JSON as /v1/openapi.json describes it, with Content-Type: application/json"
            .to_owned(),
    };
    Problem::unreadable(status, detail, cure)
}

fn words(rejection: &JsonRejection) -> String {
    match rejection {
        JsonRejection::MissingJsonContentType(_) => {
            "the request has no Content-Type: application/json".to_owned()
        }
        other => other.body_text(),
    }
}

/// A field that holds an object, `null` or nothing.
pub(super) fn optional_object<'de, D, T>(from: D) -> Result<Option<T>, D::Error>
where
    D: Deserializer<'de>,
    T: Deserialize<'de>,
{
    Ok(Option::<Object<T>>::deserialize(from)?.map(|Object(value)| value))
}

/// What is read from an object alone: serde reads a struct from an array too, so that `[]` would
/// be one whose fields may all be left out.
struct Object<T>(T);

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Object<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Fields<T>(PhantomData<T>);

        impl<'de, T: Deserialize<'de>> Visitor<'de> for Fields<T> {
            type Value = Object<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Object<T>, A::Error> {
                T::deserialize(MapAccessDeserializer::new(map)).map(Object)
            }
        }

        from.deserialize_map(Fields(PhantomData))
    }
}
