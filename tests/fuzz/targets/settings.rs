//! A settings file of any text: it is read, or every complaint names a cure. What was read gives an
//! engine or says why not, and is read the same from its own text; a change of one of its keys, whose
//! name and value stand in the first line (`# key value`), is taken or refused likewise.
#![no_main]

use libfuzzer_sys::fuzz_target;
use skimwatch::decode::SettingChange;
use skimwatch::settings::{Settings, SettingsError, parse};

fn explained(error: &SettingsError) {
    if let SettingsError::Wrong { complaints } = error {
        assert!(!complaints.is_empty());
        assert!(
            complaints
                .iter()
                .all(|complaint| !complaint.cure.is_empty())
        );
    }
    assert!(!error.to_string().is_empty());
}

fn read(text: &str) -> Option<Settings> {
    parse(text, "fuzz.toml").inspect_err(explained).ok()
}

fuzz_target!(|text: &str| {
    let Some(settings) = read(text) else {
        return;
    };
    assert_eq!(read(&settings.source.text).as_ref(), Some(&settings));
    let _ = settings.notes();
    if let Err(why) = settings.engine() {
        assert!(!why.to_string().is_empty());
    }
    let first = text.lines().next().and_then(|line| line.strip_prefix("# "));
    let Some((key, value)) = first.and_then(|line| line.split_once(' ')) else {
        return;
    };
    let change = SettingChange {
        key: key.to_owned(),
        value: (!value.is_empty()).then(|| value.to_owned()),
    };
    match settings.changed(&[change]) {
        Ok(changed) => assert_eq!(read(&changed.source.text).as_ref(), Some(&changed)),
        Err(error) => explained(&error),
    }
});
