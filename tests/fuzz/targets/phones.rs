//! The file of the phones that have joined, of any bytes: nobody comes in by it, and whoever joins is
//! known after a restart, with those who were there.
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::access::{Access, Locks, MOST_PHONES, PhoneName, Role};
use skimwatch::time::Millis;

mod scratch;

const LOCKS: Locks = Locks {
    touch: true,
    look: false,
};

fuzz_target!(|bytes: &[u8]| {
    let path = scratch::file("phones.json", bytes);
    let access = Access::new(LOCKS, Some(path.clone()));
    let before = access.phones();
    for phone in &before {
        let _ = phone.joined_at().to_string();
    }
    let invited = access.invite(Role::Crew).expect("random numbers");
    let name = PhoneName::new("newcomer").expect("a name");
    match access.join(&invited.code, name, Millis(1_773_482_400_000)) {
        Ok(joined) => {
            assert!(joined.is_saved);
            let mut known = before;
            known.push(joined.phone);
            drop(access);
            let access = Access::new(LOCKS, Some(path));
            assert_eq!(access.phones(), known);
            let visitor = access.visitor(Some(joined.token.secret()));
            assert_eq!(visitor.role, Some(Role::Crew));
        }
        Err(_) => assert!(
            before.len() >= MOST_PHONES
                || before.iter().any(|phone| phone
                    .name
                    .is_like(&PhoneName::new("newcomer").expect("a name")))
        ),
    }
});
