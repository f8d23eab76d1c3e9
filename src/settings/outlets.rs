//! `[webhook]` and `[mqtt]`: where the living advisories are told to other devices.

use std::path::PathBuf;

use super::aboard::Aboard;
use crate::key::{Fallback, Key, Section, default_of};

pub(super) const WEBHOOK: Section = Section::new(
    "webhook",
    "Other devices aboard",
    "Without this section nothing is posted anywhere. With it, every change of the living \
     advisories is posted as JSON to one address on the boat's own network: a buzzer, a lamp, a \
     display. The OpenAPI document (/v1/openapi.json, webhooks) describes the body.",
    WEBHOOK_KEYS,
)
.as_comment();

pub(super) const MQTT: Section = Section::new(
    "mqtt",
    "",
    "Without this section nothing is published. With it, the living advisories, the boat's numbers \
     and whether the daemon runs are published to an MQTT broker (3.1.1) on the boat's own network, as \
     retained messages under PREFIX/advisories, PREFIX/numbers and PREFIX/availability. Nothing \
     that the broker sends is obeyed.",
    MQTT_KEYS,
)
.as_comment();

/// What every place in these sections must be.
pub(super) const ABOARD: &str = "give an address of the boat's own network: loopback, private (10.0.0.0/8, \
    172.16.0.0/12, 192.168.0.0/16, fc00::/7) or link-local, or a name that leads to one";

const WEBHOOK_KEYS: &[Key] = &[
    Key::form(
        "address",
        "an address such as http://192.168.4.20:8080/skimwatch",
    )
    .about(
        "where to post. It must be on the boat's own network: what is posted is not encrypted, and \
         tells what the boat does",
        "the device's set-up page or program tells it",
    )
    .example("\"http://192.168.4.20:8080/skimwatch\""),
    Key::form("secret_file", "a file that the daemon may read")
        .or(Fallback::Nothing)
        .about(
            "a file of one line: the secret that is sent along as \"Authorization: Bearer SECRET\", so \
             that the device knows who posts",
            "write it with `openssl rand -hex 32`, let nobody but the daemon's user read it, and enter \
             the same in the device",
        )
        .example("\"/var/lib/skimwatch/webhook.secret\""),
];

const MQTT_KEYS: &[Key] = &[
    Key::form(
        "broker",
        "a host with or without :port, such as 192.168.4.10:1883",
    )
    .about(
        "the broker, on the boat's own network; port 1883 where none is given. The connection is \
             not encrypted",
        "127.0.0.1 if the broker runs on this computer",
    )
    .example("\"127.0.0.1:1883\""),
    Key::form(
        "prefix",
        "up to 64 letters, digits, hyphens, underscores and single slashes, such as boat/skimwatch",
    )
    .or(Fallback::Word(MqttSettings::PREFIX))
    .about(
        "what the topics begin with",
        "any that no other program uses on that broker",
    ),
    Key::form("login_file", "a file that the daemon may read")
        .or(Fallback::Nothing)
        .about(
            "a file of two lines: user and password for the broker",
            "set them up in the broker, and let nobody but the daemon's user read the file",
        )
        .example("\"/var/lib/skimwatch/mqtt.login\""),
    Key::number("numbers_s", "s", 0.5, 60.0).default(2.0).about(
        "least time between two messages with the boat's numbers",
        "nothing to measure: longer for slow displays",
    ),
];

/// Where every change of the living advisories is posted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WebhookSettings {
    /// Whom to post to.
    pub to: Aboard,
    /// Path and query there.
    pub path: String,
    /// The file of the secret that is sent along.
    pub secret_file: Option<PathBuf>,
}

/// The broker that is told what happens.
#[derive(Debug, Clone, PartialEq)]
pub struct MqttSettings {
    /// The broker.
    pub broker: Aboard,
    /// What topics begin with.
    pub prefix: String,
    /// The file of user and password.
    pub login_file: Option<PathBuf>,
    /// Least time between two messages with numbers.
    pub numbers_s: f64,
}

impl MqttSettings {
    /// `prefix` by default.
    pub const PREFIX: &str = "skimwatch";
    /// Port of a broker by default.
    pub const PORT: u16 = 1883;
    /// `numbers_s` by default.
    pub const NUMBERS_S: f64 = default_of(MQTT_KEYS, "numbers_s");
}

/// Levels of a topic that hold none of what MQTT gives a meaning (`+`, `#`, `$`).
pub(super) fn is_prefix(text: &str) -> bool {
    let is_level = |level: &str| {
        !level.is_empty()
            && level
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_')
    };
    text.len() <= 64 && text.split('/').all(is_level)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prefixes_hold_no_wildcards() {
        for good in ["skimwatch", "boat/skim-watch_2"] {
            assert!(is_prefix(good), "{good}");
        }
        for bad in ["", "/a", "a/", "a//b", "a/+", "#", "$SYS", "a b", "é"] {
            assert!(!is_prefix(bad), "{bad}");
        }
        assert!(!is_prefix(&"x".repeat(65)));
    }
}
