//! Codes to join with: good for a while, for one phone, in memory only.

use std::time::Duration;

use super::rank::Role;
use super::token::{Hash, random_below};

/// Digits of a code.
pub const CODE_DIGITS: usize = 8;
/// How long a code is good that a keeper asks for.
pub const INVITED_FOR: Duration = Duration::from_secs(600);
/// How long the code is good that the program shows at its start.
pub(super) const STARTED_FOR: Duration = Duration::from_secs(3600);
/// Codes that are good at once; a further one takes the place of the oldest.
const MOST_CODES: usize = 8;

#[derive(Debug)]
struct Code {
    hash: Hash,
    role: Role,
    until: Duration,
}

/// The codes that are good. Times are since some fixed moment.
#[derive(Debug, Default)]
pub(super) struct Codes(Vec<Code>);

impl Codes {
    /// A new code.
    pub fn make(
        &mut self,
        role: Role,
        good_for: Duration,
        now: Duration,
    ) -> Result<String, getrandom::Error> {
        let number = random_below(10_u64.pow(CODE_DIGITS as u32))?;
        let code = format!("{number:0CODE_DIGITS$}");
        self.0.retain(|code| now < code.until);
        if self.0.len() >= MOST_CODES {
            self.0.remove(0);
        }
        self.0.push(Code {
            hash: Hash::of(&code),
            role,
            until: now + good_for,
        });
        Ok(code)
    }

    /// What this code makes of a phone; blanks and hyphens in it do not count.
    pub fn role(&self, code: &str, now: Duration) -> Option<Role> {
        let found = self.find(code, now)?;
        Some(self.0[found].role)
    }

    /// The code has been used.
    pub fn use_up(&mut self, code: &str, now: Duration) {
        if let Some(found) = self.find(code, now) {
            self.0.remove(found);
        }
    }

    fn find(&self, code: &str, now: Duration) -> Option<usize> {
        let bare: String = code.chars().filter(|c| !matches!(c, ' ' | '-')).collect();
        let hash = Hash::of(&bare);
        self.0
            .iter()
            .position(|code| now < code.until && code.hash == hash)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(seconds: u64) -> Duration {
        Duration::from_secs(seconds)
    }

    #[test]
    fn a_code_is_good_for_a_while_and_once() {
        let mut codes = Codes::default();
        let code = codes.make(Role::Keeper, s(600), s(0)).unwrap();
        assert_eq!(code.len(), CODE_DIGITS);
        assert!(code.bytes().all(|byte| byte.is_ascii_digit()), "{code}");
        let spoken = format!("{} {}-", &code[..4], &code[4..]);
        assert_eq!(codes.role(&spoken, s(599)), Some(Role::Keeper));
        assert_eq!(codes.role(&code, s(600)), None);
        assert_eq!(codes.role("", s(0)), None);
        codes.use_up(&code, s(1));
        assert_eq!(codes.role(&code, s(1)), None);
    }

    #[test]
    fn no_more_than_some_are_good_at_once() {
        let mut codes = Codes::default();
        let made: Vec<_> = (0..10)
            .map(|_| codes.make(Role::Crew, s(600), s(0)).unwrap())
            .collect();
        let good = made.iter().filter(|code| codes.role(code, s(1)).is_some());
        // Two of ten codes are the same once in a million runs.
        assert_eq!(good.count(), MOST_CODES);
        assert_eq!(codes.role(&made[0], s(1)), None);
    }
}
