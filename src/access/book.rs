//! Who may do what, for all who ask: the phones, the codes, the file.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use tokio_util::sync::CancellationToken;

use super::codes::{Codes, INVITED_FOR, STARTED_FOR};
use super::file::{self, ConsoleKey};
use super::name::PhoneName;
use super::phones::{NoRoom, Phone, Phones};
use super::rank::{Need, Role};
use super::token::{Hash, Token};
use super::visitor::Visitor;
use crate::time::Millis;

/// Pause before a disk that did not take the file is tried again.
const SAVE_AGAIN: Duration = Duration::from_secs(5);

/// What the settings lock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Locks {
    /// Whether changing anything needs a phone that has joined.
    pub touch: bool,
    /// Whether looking needs one, too; then changing does in any case.
    pub look: bool,
}

/// Who may do what. Clones share it.
#[derive(Debug, Clone)]
pub struct Access(Arc<Book>);

#[derive(Debug)]
struct Book {
    locks: Locks,
    file: Option<PathBuf>,
    console: Option<ConsoleKey>,
    opened: Instant,
    inside: Mutex<Inside>,
    /// Version of the phones that is in the file.
    saved: Mutex<u64>,
}

#[derive(Debug, Default)]
struct Inside {
    phones: Phones,
    codes: Codes,
    /// Counts the changes.
    version: u64,
    /// Ends what a phone is doing, when it is taken out.
    out: BTreeMap<u32, CancellationToken>,
}

/// A code to join with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invited {
    /// Its digits.
    pub code: String,
    /// What it makes of a phone.
    pub role: Role,
    /// How long it is good.
    pub good_for: Duration,
}

/// A phone has joined.
#[derive(Debug)]
pub struct Joined {
    /// Its secret.
    pub token: Token,
    /// The phone.
    pub phone: Phone,
    /// Whether a restart knows it.
    pub is_saved: bool,
}

/// Why a phone could not join.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum JoinRefused {
    /// No such code is good now.
    #[error("this code is not good: mistyped, used already, or too old")]
    WrongCode,
    /// Another phone has the name.
    #[error("another phone has that name")]
    NameTaken,
    /// There are too many phones.
    #[error("too many phones have joined")]
    Full,
    /// The system gives no random numbers.
    #[error("the system gives no random numbers")]
    NoRandomness,
}

impl Access {
    /// Everybody may do everything.
    #[must_use]
    pub fn open() -> Self {
        let none = Locks {
            touch: false,
            look: false,
        };
        Self::new(none, None)
    }

    /// With the phones of this file, where there is one; without, they are forgotten at the end. Where
    /// something is locked, the console's key is laid beside the file.
    #[must_use]
    pub fn new(locks: Locks, file: Option<PathBuf>) -> Self {
        let locks = Locks {
            touch: locks.touch || locks.look,
            ..locks
        };
        let file = file.filter(|_| locks.touch);
        let phones = file.as_deref().map(file::read).unwrap_or_default();
        let console = file.as_deref().and_then(|path| {
            ConsoleKey::write(path)
                .inspect_err(|why| {
                    tracing::warn!(
                        "{}: {why}; `skimwatch crew` and `skimwatch forget` cannot reach this \
                         program",
                        file::console_file(path).display()
                    );
                })
                .ok()
        });
        let out = phones.list().iter().map(|phone| phone.number);
        let inside = Inside {
            out: out
                .map(|number| (number, CancellationToken::new()))
                .collect(),
            phones,
            ..Inside::default()
        };
        Self(Arc::new(Book {
            locks,
            file,
            console,
            opened: Instant::now(),
            inside: Mutex::new(inside),
            saved: Mutex::new(0),
        }))
    }

    /// What is locked.
    #[must_use]
    pub fn locks(&self) -> Locks {
        self.0.locks
    }

    fn inside(&self) -> MutexGuard<'_, Inside> {
        self.0.inside.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Who asks, by the token that is shown.
    #[must_use]
    pub fn visitor(&self, token: Option<&str>) -> Visitor {
        let locks = self.locks();
        if !locks.touch {
            return Visitor::stranger(Need::Keeper, false);
        }
        let stranger = if locks.look {
            Need::Nothing
        } else {
            Need::Look
        };
        let Some(token) = token else {
            return Visitor::stranger(stranger, false);
        };
        let hash = Hash::of(token);
        if self.0.console.as_ref().is_some_and(|key| key.hash == hash) {
            return Visitor {
                name: Some("console".into()),
                ..Visitor::stranger(Need::Keeper, false)
            };
        }
        let inside = self.inside();
        match inside.phones.with_token(&hash) {
            Some(phone) => Visitor {
                may: phone.role.into(),
                number: Some(phone.number),
                name: Some(phone.name.shared()),
                role: Some(phone.role),
                was_taken_out: false,
                out: inside.out.get(&phone.number).cloned(),
            },
            None => Visitor::stranger(stranger, true),
        }
    }

    /// A code to join with.
    ///
    /// # Errors
    /// When the system gives no random numbers.
    pub fn invite(&self, role: Role) -> Result<Invited, JoinRefused> {
        self.make_code(role, INVITED_FOR)
    }

    /// The code of the program's start, while something is locked and there is no keeper.
    #[must_use]
    pub fn first_code(&self) -> Option<Invited> {
        if !self.locks().touch || self.inside().phones.has_keeper() {
            return None;
        }
        self.make_code(Role::Keeper, STARTED_FOR)
            .inspect_err(|why| tracing::error!("no code to join with: {why}"))
            .ok()
    }

    fn make_code(&self, role: Role, good_for: Duration) -> Result<Invited, JoinRefused> {
        let now = self.0.opened.elapsed();
        let code = self.inside().codes.make(role, good_for, now);
        Ok(Invited {
            code: code.map_err(|_| JoinRefused::NoRandomness)?,
            role,
            good_for,
        })
    }

    /// A phone joins. Waits for the disk.
    ///
    /// # Errors
    /// With a wrong code or a name that another phone has; the code stays good then.
    pub fn join(&self, code: &str, name: PhoneName, at: Millis) -> Result<Joined, JoinRefused> {
        let token = Token::random().map_err(|_| JoinRefused::NoRandomness)?;
        let now = self.0.opened.elapsed();
        let phone = {
            let mut inside = self.inside();
            let role = inside.codes.role(code, now).ok_or(JoinRefused::WrongCode)?;
            inside.phones.room_for(&name).map_err(|why| match why {
                NoRoom::NameTaken => JoinRefused::NameTaken,
                NoRoom::Full => JoinRefused::Full,
            })?;
            inside.codes.use_up(code, now);
            let phone = inside.phones.add(name, role, token.hash(), at);
            inside.out.insert(phone.number, CancellationToken::new());
            inside.version += 1;
            phone
        };
        tracing::info!("{} has joined as {}", phone.name, phone.role.word());
        Ok(Joined {
            token,
            phone,
            is_saved: self.save(),
        })
    }

    /// The phones that have joined.
    #[must_use]
    pub fn phones(&self) -> Vec<Phone> {
        self.inside().phones.list().to_vec()
    }

    /// Takes a phone out, at once. Gives the phone, and whether a restart knows it. Waits for the
    /// disk.
    #[must_use]
    pub fn take_out(&self, number: u32) -> Option<(Phone, bool)> {
        let phone = {
            let mut inside = self.inside();
            let phone = inside.phones.take_out(number)?;
            if let Some(out) = inside.out.remove(&number) {
                out.cancel();
            }
            inside.version += 1;
            phone
        };
        tracing::info!("{} was taken out", phone.name);
        Some((phone, self.save()))
    }

    /// Writes the file when it is not what it should be; false when the disk does not take it. Without
    /// a file there is nothing to be kept.
    fn save(&self) -> bool {
        let Some(path) = &self.0.file else {
            return false;
        };
        // One writes at a time, and always what is so now.
        let mut saved = self.0.saved.lock().unwrap_or_else(PoisonError::into_inner);
        let (version, phones) = {
            let inside = self.inside();
            (inside.version, inside.phones.clone())
        };
        if *saved == version {
            return true;
        }
        match file::write(path, &phones) {
            Ok(()) => {
                *saved = version;
                true
            }
            Err(why) => {
                tracing::warn!(
                    "{}: {why}; a restart would not know which phones have joined or were taken out",
                    path.display()
                );
                false
            }
        }
    }

    /// Tries a file again that the disk did not take, until shutdown.
    pub async fn keep_file(self, shutdown: CancellationToken) {
        while self.0.file.is_some() {
            let pause = tokio::time::sleep(SAVE_AGAIN);
            if shutdown.run_until_cancelled(pause).await.is_none() {
                return;
            }
            let access = self.clone();
            // A panic in there has been told; the next round tries again.
            let _ = tokio::task::spawn_blocking(move || access.save()).await;
        }
    }
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::PermissionsExt as _;
    use std::path::Path;

    use super::super::file::console_file;
    use super::*;

    const LOCKED: Locks = Locks {
        touch: true,
        look: false,
    };

    fn name(text: &str) -> PhoneName {
        PhoneName::new(text).unwrap()
    }

    fn join(access: &Access, role: Role, text: &str) -> Joined {
        let code = access.invite(role).unwrap().code;
        access.join(&code, name(text), Millis(7)).unwrap()
    }

    fn locked(path: &Path) -> Access {
        Access::new(LOCKED, Some(path.to_owned()))
    }

    #[test]
    fn without_locks_everybody_may_everything() {
        let access = Access::open();
        assert_eq!(access.visitor(None).may, Need::Keeper);
        assert_eq!(access.visitor(Some("x")).may, Need::Keeper);
        assert_eq!(access.first_code(), None);
    }

    #[test]
    fn the_first_code_makes_a_keeper_and_a_phone_may_what_it_joined_as() {
        let access = Access::new(LOCKED, None);
        assert_eq!(access.visitor(None).may, Need::Look);
        let first = access.first_code().unwrap();
        assert_eq!(first.role, Role::Keeper);
        let keeper = access
            .join(&first.code, name("skipper"), Millis(1))
            .unwrap();
        assert!(!keeper.is_saved, "there is no file");
        assert_eq!(access.first_code(), None);
        let seen = access.visitor(Some(keeper.token.secret()));
        assert_eq!((seen.may, seen.number), (Need::Keeper, Some(1)));
        let crew = join(&access, Role::Crew, "mate's phone");
        let seen = access.visitor(Some(crew.token.secret()));
        assert_eq!(seen.may, Need::Crew);
        assert_eq!(seen.name.as_deref(), Some("mate's phone"));
        // A code is for one phone; a taken name costs none.
        let code = access.invite(Role::Crew).unwrap().code;
        let again = access.join(&code, name("Mate's Phone"), Millis(2));
        assert_eq!(again.unwrap_err(), JoinRefused::NameTaken);
        access.join(&code, name("helm"), Millis(3)).unwrap();
        let used = access.join(&code, name("other"), Millis(4));
        assert_eq!(used.unwrap_err(), JoinRefused::WrongCode);
    }

    #[test]
    fn closed_to_lookers_means_locked() {
        let locks = Locks {
            touch: false,
            look: true,
        };
        let access = Access::new(locks, None);
        assert!(access.locks().touch);
        assert_eq!(access.visitor(None).may, Need::Nothing);
    }

    #[tokio::test]
    async fn a_phone_that_is_taken_out_is_out_at_once() {
        let access = Access::new(LOCKED, None);
        let mate = join(&access, Role::Crew, "mate");
        let seen = access.visitor(Some(mate.token.secret()));
        let (phone, _) = access.take_out(mate.phone.number).unwrap();
        assert_eq!(phone.name, name("mate"));
        seen.taken_out().await;
        let seen = access.visitor(Some(mate.token.secret()));
        assert_eq!((seen.may, seen.was_taken_out), (Need::Look, true));
        assert!(access.take_out(mate.phone.number).is_none());
        // Its number is not given again.
        assert_eq!(join(&access, Role::Crew, "mate").phone.number, 2);
    }

    #[test]
    fn a_restart_knows_the_phones_and_nothing_secret_is_in_the_file() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("below").join("phones.json");
        let access = locked(&path);
        let mate = join(&access, Role::Crew, "mate");
        assert!(mate.is_saved);
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains("mate") && !text.contains(mate.token.secret()));
        let mode = std::fs::metadata(&path).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
        drop(access);
        let access = locked(&path);
        let seen = access.visitor(Some(mate.token.secret()));
        assert_eq!(seen.name.as_deref(), Some("mate"));
        let (_, is_saved) = access.take_out(1).unwrap();
        assert!(is_saved);
        assert!(locked(&path).phones().is_empty());
    }

    #[test]
    fn a_file_of_something_else_is_set_aside() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("phones.json");
        for wrong in ["{", "[]", "{\"last_number\":1}", &"x".repeat(70_000)] {
            std::fs::write(&path, wrong).unwrap();
            assert!(locked(&path).phones().is_empty());
            assert!(!path.exists());
        }
        let aside = dir.path().join("phones.json.aside-1");
        assert_eq!(std::fs::read_to_string(aside).unwrap(), "{");
        // An emptied one holds nothing.
        std::fs::write(&path, "").unwrap();
        assert!(locked(&path).phones().is_empty());
        assert!(path.exists());
    }

    #[test]
    fn the_console_has_a_key_while_the_program_runs() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("phones.json");
        assert!(ConsoleKey::read(&path).unwrap().is_none());
        let access = locked(&path);
        let key = ConsoleKey::read(&path).unwrap().unwrap();
        let seen = access.visitor(Some(&key));
        assert_eq!(seen.may, Need::Keeper);
        assert_eq!(seen.name.as_deref(), Some("console"));
        let mode = std::fs::metadata(console_file(&path)).unwrap();
        assert_eq!(mode.permissions().mode() & 0o777, 0o600);
        drop(access);
        assert!(ConsoleKey::read(&path).unwrap().is_none());
    }

    #[test]
    fn a_disk_that_takes_no_file_keeps_nobody_out_and_is_tried_again() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("phones.json");
        let access = locked(&path);
        // What stands where the new file would be written cannot be replaced by one.
        let blocked = dir.path().join("phones.json.skimwatch-new");
        std::fs::create_dir(&blocked).unwrap();
        let mate = join(&access, Role::Crew, "mate");
        assert!(!mate.is_saved && !path.exists());
        assert_eq!(access.visitor(Some(mate.token.secret())).may, Need::Crew);
        std::fs::remove_dir(&blocked).unwrap();
        assert!(access.save());
        assert_eq!(locked(&path).phones().len(), 1);
    }
}
