//! What a phone may do, and what a request needs.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What a phone that has joined may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Tells what happens on deck: lines, bait, turns, marks, strike, launch.
    Crew,
    /// Also changes settings, makes the program forget, lets phones in and takes them out.
    Keeper,
}

impl Role {
    /// As it is written.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Crew => "crew",
            Self::Keeper => "keeper",
        }
    }
}

/// What is needed for something, and likewise what somebody may do at most: each includes those
/// before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Need {
    /// Nothing: anybody whose request arrives.
    Nothing,
    /// To look.
    Look,
    /// A crew phone.
    Crew,
    /// A keeper's phone.
    Keeper,
}

impl From<Role> for Need {
    fn from(role: Role) -> Self {
        match role {
            Role::Crew => Self::Crew,
            Role::Keeper => Self::Keeper,
        }
    }
}
