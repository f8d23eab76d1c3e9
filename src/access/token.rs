//! Secrets: tokens of phones and codes to join with. Neither is ever shown by `Debug`.

use std::fmt;

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

/// Bytes of a token.
const TOKEN_BYTES: usize = 32;

/// A phone's secret: 64 hexadecimal digits.
pub struct Token(String);

impl Token {
    /// A new one.
    ///
    /// # Errors
    /// When the system gives no random numbers.
    pub fn random() -> Result<Self, getrandom::Error> {
        let mut bytes = [0; TOKEN_BYTES];
        getrandom::fill(&mut bytes)?;
        Ok(Self(hex(&bytes)))
    }

    /// The text itself, for the one phone that it is for.
    #[must_use]
    pub fn secret(&self) -> &str {
        &self.0
    }

    pub(super) fn hash(&self) -> Hash {
        Hash::of(&self.0)
    }
}

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token(secret)")
    }
}

/// What is kept of a secret: its SHA-256.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(super) struct Hash([u8; 32]);

impl Hash {
    pub fn of(secret: &str) -> Self {
        Self(Sha256::digest(secret.as_bytes()).into())
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Hash")
    }
}

impl From<Hash> for String {
    fn from(hash: Hash) -> Self {
        hex(&hash.0)
    }
}

impl TryFrom<String> for Hash {
    type Error = &'static str;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        const WRONG: &str = "a hash is 64 hexadecimal digits";
        let mut bytes = [0; 32];
        if text.len() != 2 * bytes.len() || !text.is_ascii() {
            return Err(WRONG);
        }
        for (index, byte) in bytes.iter_mut().enumerate() {
            let digits = &text[2 * index..2 * index + 2];
            *byte = u8::from_str_radix(digits, 16).map_err(|_| WRONG)?;
        }
        Ok(Self(bytes))
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A random number below `below`. Taking the rest of 64 random bits favours none by more than one
/// in a hundred thousand million.
pub(super) fn random_below(below: u64) -> Result<u64, getrandom::Error> {
    Ok(getrandom::u64()? % below)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hash_is_that_of_the_standard_and_comes_back_from_its_text() {
        // FIPS 180-4, example of one block: "abc".
        let text = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(String::from(Hash::of("abc")), text);
        assert_eq!(Hash::try_from(text.to_owned()), Ok(Hash::of("abc")));
        for wrong in ["", "zz", &text[1..], &text.replace('b', "g")] {
            assert!(Hash::try_from(wrong.to_owned()).is_err(), "{wrong}");
        }
    }

    #[test]
    fn tokens_are_long_differ_and_are_not_shown() {
        let (one, other) = (Token::random().unwrap(), Token::random().unwrap());
        assert_eq!(one.secret().len(), 64);
        assert_ne!(one.secret(), other.secret());
        assert!(!format!("{one:?}{:?}", one.hash()).contains(&one.secret()[..8]));
    }
}
