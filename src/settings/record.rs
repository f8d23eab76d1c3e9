//! `[record]`: where the raw stream is kept. Without the section nothing is recorded.

use super::reader::Section;
use crate::record::{RecordSettings, RecordSettingsError};

pub(super) fn read(section: Section<'_>) -> Option<RecordSettings> {
    if !section.is_present() {
        return None;
    }
    let dir = section.needed_text("dir", "a directory that the daemon may write");
    let max_file_mib = section.whole("max_file_mib").unwrap_or(16);
    let max_total_mib = section.whole("max_total_mib").unwrap_or(1024);
    let settings = dir.and_then(|dir| {
        RecordSettings::new(dir.into(), max_file_mib, max_total_mib)
            .map_err(|wrong| {
                let key = match wrong {
                    RecordSettingsError::Dir => "dir",
                    RecordSettingsError::MaxFile(_) => "max_file_mib",
                    RecordSettingsError::MaxTotal { .. } => "max_total_mib",
                };
                section.complain(key, "is not allowed", wrong.to_string());
            })
            .ok()
    });
    section.finish();
    settings
}
