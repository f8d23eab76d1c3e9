//! `learnt_file` of `[forecast]`: where what is learnt is kept. The forecast room knows no files.

use crate::key::{self, Fallback, Key};

pub(super) const LEARNT: key::Section = key::Section::new(
    "forecast",
    "",
    "",
    &[Key::form("learnt_file", "a file that the daemon may write")
        .or(Fallback::Nothing)
        .about(
            "where the daemon keeps what the crew's reports have taught of each kite (with its \
             lines, marker and bait), so that it outlives the day: up to eight kites, of which the \
             one not taught for the longest makes room for another. Without this key it lasts \
             until the daemon ends. A demo and a replay write no such file",
            "use the directory that the service file gives the daemon. `skimwatch forget \
             --settings FILE`, or the button on the rig page, forgets the kite set here",
        )
        .given("\"/var/lib/skimwatch/learnt.json\"")],
);
