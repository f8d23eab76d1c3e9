//! The phones that have joined.

use serde::{Deserialize, Serialize};

use super::name::PhoneName;
use super::rank::Role;
use super::token::Hash;
use crate::time::Millis;

/// Most phones that may have joined.
pub const MOST_PHONES: usize = 64;

/// A phone that has joined.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Phone {
    /// Its number; no other phone ever has it.
    pub number: u32,
    /// The name that the crew has given it.
    pub name: PhoneName,
    /// What it may do.
    pub role: Role,
    joined_unix_ms: i64,
    token_sha256: Hash,
}

impl Phone {
    /// When it joined, by the boat computer's clock.
    #[must_use]
    pub fn joined_at(&self) -> Millis {
        Millis(self.joined_unix_ms)
    }
}

/// Why a phone cannot join although its code is right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoRoom {
    NameTaken,
    Full,
}

/// All of them.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Phones {
    /// Number of the phone that joined last.
    last_number: u32,
    phones: Vec<Phone>,
}

impl Phones {
    pub fn list(&self) -> &[Phone] {
        &self.phones
    }

    pub fn with_token(&self, hash: &Hash) -> Option<&Phone> {
        self.phones.iter().find(|phone| phone.token_sha256 == *hash)
    }

    pub fn has_keeper(&self) -> bool {
        self.phones.iter().any(|phone| phone.role == Role::Keeper)
    }

    pub fn room_for(&self, name: &PhoneName) -> Result<(), NoRoom> {
        if self.phones.iter().any(|phone| phone.name.is_like(name)) {
            return Err(NoRoom::NameTaken);
        }
        if self.phones.len() >= MOST_PHONES {
            return Err(NoRoom::Full);
        }
        Ok(())
    }

    pub fn add(&mut self, name: PhoneName, role: Role, hash: Hash, at: Millis) -> Phone {
        self.last_number = self.last_number.saturating_add(1);
        let phone = Phone {
            number: self.last_number,
            name,
            role,
            joined_unix_ms: at.0,
            token_sha256: hash,
        };
        self.phones.push(phone.clone());
        phone
    }

    pub fn take_out(&mut self, number: u32) -> Option<Phone> {
        let at = self.phones.iter().position(|p| p.number == number)?;
        Some(self.phones.remove(at))
    }
}
