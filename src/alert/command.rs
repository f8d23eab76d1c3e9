//! Commands of displays: ACN, and ACK of older ones.

use super::sentence::MNEMONIC;

/// What a display asks of an alert.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    /// Somebody has seen it.
    Acknowledge,
    /// Send it again.
    Again,
    /// Take over responsibility.
    TakeOver,
    /// No sound for a while.
    Silence,
}

impl Wish {
    pub(super) fn letter(self) -> char {
        match self {
            Self::Acknowledge => 'A',
            Self::Again => 'Q',
            Self::TakeOver => 'O',
            Self::Silence => 'S',
        }
    }

    fn of(letter: &str) -> Option<Self> {
        let all = [
            Self::Acknowledge,
            Self::Again,
            Self::TakeOver,
            Self::Silence,
        ];
        let mut letters = letter.chars();
        let first = letters.next().filter(|_| letters.next().is_none())?;
        all.into_iter().find(|wish| wish.letter() == first)
    }
}

/// A command that is for us.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Command {
    /// ACN: of an alert by its number and instance (none or 0: all of them).
    Alert {
        /// Number of the kind.
        number: u32,
        /// Which of that kind.
        instance: Option<u32>,
        /// What is asked.
        wish: Wish,
    },
    /// ACK: somebody has seen the alerts of this text number.
    Older {
        /// The number.
        text: u32,
    },
}

impl Command {
    /// Reads a sentence whose checksum is right; `None` for any other, and for alerts of others.
    #[must_use]
    pub fn read(sentence: &str) -> Option<Self> {
        let (body, _) = sentence.strip_prefix('$')?.split_once('*')?;
        let fields: Vec<&str> = body.split(',').collect();
        let (address, fields) = fields.split_first()?;
        let formatter = address.get(2..).filter(|_| address.len() == 5)?;
        match (formatter, fields) {
            // The flag C says that it is a command; with any other it is none.
            ("ACN", [_, mnemonic, number, instance, letter, "C"]) if *mnemonic == MNEMONIC => {
                Some(Self::Alert {
                    number: number.parse().ok()?,
                    instance: match *instance {
                        "" => None,
                        digits => Some(digits.parse().ok()?),
                    },
                    wish: Wish::of(letter)?,
                })
            }
            ("ACK", [text]) => Some(Self::Older {
                text: text.parse().ok()?,
            }),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_commands_for_us_are_read() {
        let alert = |number, instance, wish| {
            Some(Command::Alert {
                number,
                instance,
                wish,
            })
        };
        for (sentence, command) in [
            (
                "$RAACN,220516,SKW,10002,1,A,C*00",
                alert(10002, Some(1), Wish::Acknowledge),
            ),
            ("$RAACN,,SKW,10002,,Q,C*00", alert(10002, None, Wish::Again)),
            (
                "$RAACN,,SKW,10002,0,S,C*00",
                alert(10002, Some(0), Wish::Silence),
            ),
            (
                "$RAACN,,SKW,10002,1,O,C*00",
                alert(10002, Some(1), Wish::TakeOver),
            ),
            ("$VRACK,001*50", Some(Command::Older { text: 1 })),
            // Of another maker, as published; not a command; of another form.
            ("$RAACN,220516,TCK,002,1,A,C*00", None),
            ("$RAACN,220516,SKW,10002,1,A,V*00", None),
            ("$RAACN,220516,SKW,10002,1,C,A*00", None),
            ("$RAACN,220516,SKW,10002,1,AA,C*00", None),
            ("$RAACN,220516,SKW,-1,1,A,C*00", None),
            ("$RAACN,220516,SKW,10002,1,A*00", None),
            ("$PACK,001*00", None),
            ("$VRACK*00", None),
            ("", None),
        ] {
            assert_eq!(Command::read(sentence), command, "{sentence}");
        }
    }
}
