//! `[serve]`: the address of the pages and the bounds of the HTTP room.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;

use crate::access::Locks;
use crate::key::{self, Complaint, Fallback, Key, default_of, row_of, words_of};

pub(super) const SERVE: key::Section = key::Section::new("serve", "Pages and API", "", KEYS);

/// This device alone.
const BIND: &str = "127.0.0.1:8477";
const PORT: u16 = 8477;
const NAME: &str = "skimwatch";

/// Whose phone may change anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Touch {
    /// One that has joined, where `bind` lets other devices in; else everybody.
    #[default]
    Auto,
    /// One that has joined.
    Crew,
    /// Any.
    Everybody,
}

pub(super) const TOUCHES: [(&str, Touch); 3] = [
    ("auto", Touch::Auto),
    ("crew", Touch::Crew),
    ("everybody", Touch::Everybody),
];
/// Who may look: whether that is locked.
pub(super) const LOOKS: [(&str, bool); 2] = [("everybody", false), ("crew", true)];

/// With what the pages are encrypted.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Tls {
    /// Nothing.
    #[default]
    Off,
    /// A certificate that a local authority signs, both made by the program.
    Local,
    /// The boat's own.
    Files {
        /// PEM file of the certificate and those that signed it.
        certificate: PathBuf,
        /// PEM file of its private key.
        key: PathBuf,
    },
}

pub(super) const TLS_OFF: &str = "off";
pub(super) const TLS_LOCAL: &str = "local";
pub(super) const TLS_FILES: &str = "files";

const TLS_WORDS: &[&str] = &[TLS_OFF, TLS_LOCAL, TLS_FILES];
const TOUCH_WORDS: &[&str] = &words_of(&TOUCHES);
const LOOK_WORDS: &[&str] = &words_of(&LOOKS);

const KEYS: &[Key] = &[
    Key::form(
        "bind",
        "address:port, such as 127.0.0.1:8477 for this computer alone or 0.0.0.0:8477 for the phones aboard",
    )
    .or(Fallback::Word(BIND))
    .about(
            "where the pages are. 127.0.0.1 is this computer alone; 0.0.0.0:8477 lets the phones \
             on the boat's Wi-Fi in, and anybody else on that network too",
            "the log of the daemon lists this computer's addresses",
        )
    .given("\"127.0.0.1:8477\""),
    Key::form(
        "mdns_name",
        "up to 63 letters, digits and hyphens, no hyphen at either end, without .local; empty for none",
    )
    .or(Fallback::Word(NAME))
    .about(
            "phones then find the pages at http://skimwatch.local:8477/ too; \"\" for no such name",
            "any name that no other computer aboard has",
        ),
    Key::list(
        "names",
        "a host name as a browser shows it, such as \"chart-table.local\", without port",
    )
    .about(
            "further names under which browsers are answered, besides this computer's addresses, \
             localhost and the name above. No other name is answered, so that a page of another \
             site cannot pass for ours",
            "add the name that a router gives this computer, as [\"chart-table.local\"]",
        ),
    Key::words("touch", TOUCH_WORDS)
        .or(Fallback::Word("auto"))
        .about(
            "who may change anything. \"crew\": phones that have joined with a code; others only \
             look. \"everybody\": whoever is on the network. \"auto\": everybody where bind is \
             this computer alone, else crew",
            "decide it: guests on the boat's Wi-Fi should not move the kite's size. The log shows \
             the first code; `skimwatch crew invite --settings FILE` and a keeper's phone give \
             others",
        ),
    Key::words("look", LOOK_WORDS)
        .or(Fallback::Word("everybody"))
        .about(
            "who may read anything: \"everybody\", or \"crew\", phones that have joined. With \
             \"crew\" touching is locked, too",
            "decide it: positions and marks are among what is read",
        ),
    Key::form("phones_file", "a file that the daemon may write")
        .or(Fallback::Nothing)
        .about(
            "where the daemon keeps which phones have joined (names, and hashes of their secrets). \
             Without this key it is phones.json beside learnt_file of [forecast], and without that \
             a file beside this one, with \".phones\" after its name. A demo and a replay forget \
             them at their end",
            "use the directory that the service file gives the daemon",
        )
        .example("\"/var/lib/skimwatch/phones.json\""),
    Key::words("tls", TLS_WORDS)
        .or(Fallback::Word(TLS_OFF))
        .about(
            "whether the pages are encrypted. \"off\": anybody on the boat's Wi-Fi can read what goes \
             over it, a crew phone's pass too, and use that. \"local\": with a certificate that the \
             daemon makes and renews; each phone is told once to trust it. \"files\": with the boat's \
             own, given below. Plain http then only leads to https, except on this computer itself. A \
             change counts from the next start",
            "decide it: \"local\" where guests share the Wi-Fi; `skimwatch tls --settings FILE` tells \
             what to do on a phone",
        ),
    Key::form("certificate_file", "a PEM file that the daemon may read")
        .or(Fallback::Nothing)
        .about(
            "for tls = \"files\": the certificate, with those that signed it after it. It is read \
             again when it changes",
            "it comes from whoever runs the boat's names",
        )
        .example("\"/var/lib/skimwatch/boat.crt\""),
    Key::form("key_file", "a PEM file that the daemon may read")
        .or(Fallback::Nothing)
        .about(
            "for tls = \"files\": the private key of that certificate, not encrypted",
            "let nobody but the daemon's user read it",
        )
        .example("\"/var/lib/skimwatch/boat.key\""),
    Key::number("heartbeat_s", "s", 0.1, 60.0)
        .default(15.0)
        .about("time between comments on a quiet stream of advisories", "nothing to measure: shorter than the router waits on a quiet connection"),
    Key::whole("history", "", 1, 10_000)
        .default(512.0)
        .about("revisions of advisories that are kept for pages that come back", "nothing to measure: leave the key away for the default"),
    Key::number("slow_client_s", "s", 0.1, 120.0)
        .default(10.0)
        .about("a client that takes nothing for so long is dropped", "nothing to measure: longer where the Wi-Fi drops out for seconds"),
    Key::whole("connections", "", 2, 1000)
        .default(96.0)
        .about(
            "connections at once. When all are taken, a newcomer takes the place of an idle one, \
             or of one of the address that holds most",
            "count phones and screens, three for each, and double it",
        ),
    Key::whole("streams", "", 1, 999)
        .default(48.0)
        .about(
            "event streams at once, one for each open page; must be fewer than connections. When \
             all are taken, a newcomer takes the place of one of the address that holds most, or \
             is refused if that is its own",
            "count phones and screens, two for each",
        ),
];

/// How the HTTP room behaves.
#[derive(Debug, Clone, PartialEq)]
pub struct ServeSettings {
    /// Address and port to listen on. Only this device by default.
    pub bind: SocketAddr,
    /// Seconds between comments on a quiet advisory stream.
    pub heartbeat_s: f64,
    /// Advisory revisions kept for clients that come back.
    pub history: usize,
    /// Seconds that a client may leave written bytes untaken before it is dropped.
    pub slow_client_s: f64,
    /// Connections at once. When all are taken, a newcomer takes the place of an idle one, or of
    /// one of the address that holds most.
    pub connections: usize,
    /// Event streams at once. When all are taken, a newcomer takes the place of one of the address
    /// that holds most, or is refused if that is its own.
    pub streams: usize,
    /// Name by which phones find the program on the boat's network, without `.local`; empty for
    /// none.
    pub mdns_name: String,
    /// Further host names by which browsers may ask, besides addresses, `localhost` and
    /// `mdns_name.local`.
    pub names: Vec<String>,
    /// Whose phone may change anything.
    pub touch: Touch,
    /// Whether looking needs a phone that has joined, too.
    pub look_is_locked: bool,
    /// Where the phones that have joined are kept; `None` for a place that depends on the other
    /// settings.
    pub phones_file: Option<PathBuf>,
    /// With what the pages are encrypted.
    pub tls: Tls,
}

impl Default for ServeSettings {
    fn default() -> Self {
        Self {
            bind: SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), PORT),
            heartbeat_s: const { default_of(KEYS, "heartbeat_s") },
            history: const { default_of(KEYS, "history") } as usize,
            slow_client_s: const { default_of(KEYS, "slow_client_s") },
            connections: const { default_of(KEYS, "connections") } as usize,
            streams: const { default_of(KEYS, "streams") } as usize,
            mdns_name: NAME.to_owned(),
            names: Vec::new(),
            touch: Touch::default(),
            look_is_locked: false,
            phones_file: None,
            tls: Tls::Off,
        }
    }
}

impl ServeSettings {
    /// What is locked for those who ask at this address.
    #[must_use]
    pub fn locks(&self, address: SocketAddr) -> Locks {
        Locks {
            touch: match self.touch {
                Touch::Auto => !address.ip().is_loopback(),
                Touch::Crew => true,
                Touch::Everybody => false,
            },
            look: self.look_is_locked,
        }
    }

    /// Complaints about what no row of the table can say.
    pub(super) fn check(&self) -> Vec<Complaint> {
        const STREAMS: &Key = row_of(KEYS, "streams");
        const MDNS_NAME: &Key = row_of(KEYS, "mdns_name");
        const NAMES: &Key = row_of(KEYS, "names");
        const TOUCH: &Key = row_of(KEYS, "touch");
        let mut complaints = Vec::new();
        if self.streams >= self.connections {
            let problem = format!("must be below connections = {}", self.connections);
            complaints.push(STREAMS.clash(self.streams, problem, STREAMS.cure()));
        }
        if self.look_is_locked && self.touch == Touch::Everybody {
            let problem = "must not be so where look = \"crew\"".to_owned();
            complaints.push(TOUCH.clash("\"everybody\"", problem, TOUCH.cure()));
        }
        if !is_label(&self.mdns_name) {
            complaints.push(MDNS_NAME.refuse(format_args!("\"{}\"", self.mdns_name)));
        }
        let wrong = self.names.iter().filter(|name| !is_host_name(name));
        complaints.extend(wrong.map(|name| NAMES.refuse(format_args!("\"{name}\""))));
        complaints
    }
}

/// A label as RFC 1123 has it, or nothing.
fn is_label(name: &str) -> bool {
    name.len() <= 63
        && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')
        && !name.starts_with('-')
        && !name.ends_with('-')
}

fn is_host_name(name: &str) -> bool {
    (1..=253).contains(&name.len())
        && name
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_pass_and_stay_on_this_device() {
        let settings = ServeSettings::default();
        assert_eq!(settings.check(), []);
        assert!(settings.bind.ip().is_loopback());
        assert_eq!(settings.bind.to_string(), BIND);
    }

    #[test]
    fn touching_is_locked_where_others_come_in_or_where_it_is_said() {
        let here: SocketAddr = "127.0.0.1:1".parse().unwrap();
        let wifi: SocketAddr = "0.0.0.0:1".parse().unwrap();
        for (touch, at_here, at_wifi) in [
            (Touch::Auto, false, true),
            (Touch::Crew, true, true),
            (Touch::Everybody, false, false),
        ] {
            let settings = ServeSettings {
                touch,
                ..ServeSettings::default()
            };
            assert_eq!(settings.locks(here).touch, at_here, "{touch:?}");
            assert_eq!(settings.locks(wifi).touch, at_wifi, "{touch:?}");
            assert!(!settings.locks(wifi).look);
        }
    }

    #[test]
    fn every_complaint_names_key_and_value() {
        let settings = ServeSettings {
            connections: 9,
            streams: 9,
            mdns_name: "boat.local".to_owned(),
            names: vec![
                "chart-table".to_owned(),
                "http://chart-table:8477/".to_owned(),
            ],
            touch: Touch::Everybody,
            look_is_locked: true,
            ..ServeSettings::default()
        };
        let told: Vec<_> = settings.check().iter().map(ToString::to_string).collect();
        assert_eq!(told.len(), 4, "{told:?}");
        assert!(told[0].starts_with("streams = 9: must be below connections = 9; "));
        assert!(told[1].starts_with("touch = \"everybody\": must not be so where look"));
        assert!(told[2].starts_with("mdns_name = \"boat.local\": must be up to 63 letters"));
        assert!(told[3].starts_with("names = \"http://chart-table:8477/\": must be "));
    }
}
