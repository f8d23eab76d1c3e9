//! `[record]`: where the raw stream is kept. Without the section nothing is recorded.

use super::reader::Section;
use crate::record::RecordSettings;

pub(super) fn read(section: Section<'_>) -> Option<RecordSettings> {
    if !section.is_present() {
        return None;
    }
    let dir = section.needed_form("dir");
    let whole = |key, default| section.any_whole(key).unwrap_or(default);
    let max_file_mib = whole("max_file_mib", RecordSettings::MAX_FILE_MIB);
    let max_total_mib = whole("max_total_mib", RecordSettings::MAX_TOTAL_MIB);
    let settings = dir.and_then(|dir| {
        RecordSettings::new(dir.into(), max_file_mib, max_total_mib)
            .map_err(|complaint| section.place(*complaint))
            .ok()
    });
    section.finish();
    settings
}
