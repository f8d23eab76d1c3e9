//! Words in the file: the name that a variant has in JSON.

use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::time::Millis;

/// A variant as the word that JSON has for it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Word<T>(pub T);

impl<T: Serialize> ToSql for Word<T> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        match serde_json::to_value(&self.0) {
            Ok(Value::String(word)) => Ok(ToSqlOutput::from(word)),
            Ok(other) => Err(failed(format!("{other} is no word"))),
            Err(error) => Err(failed(error.to_string())),
        }
    }
}

fn failed(why: String) -> rusqlite::Error {
    rusqlite::Error::ToSqlConversionFailure(why.into())
}

impl<T: DeserializeOwned> FromSql for Word<T> {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let word = Value::String(value.as_str()?.to_owned());
        serde_json::from_value(word)
            .map(Self)
            .map_err(FromSqlError::other)
    }
}

impl ToSql for Millis {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::from(self.0))
    }
}

impl FromSql for Millis {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        value.as_i64().map(Self)
    }
}
