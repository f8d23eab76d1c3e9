//! Reads the sections that have no reader of their own: pages, alerts, other devices, units, recordings,
//! restart, logbook.

use std::path::PathBuf;

use axum::http::Uri;
use axum::http::uri::Authority;

use super::aboard::Aboard;
use super::alerts::AlertSettings;
use super::crew::{self, CrewUnits};
use super::outlets::{ABOARD, MqttSettings, WebhookSettings, is_prefix};
use super::reader::Section;
use super::restart::RestartSettings;
use super::serve::{LOOKS, ServeSettings, TLS_FILES, TLS_LOCAL, TLS_OFF, TOUCHES, Tls};
use crate::feed::{Feed, FeedSpec};
use crate::logbook::LogbookSettings;
use crate::record::RecordSettings;

/// `[serve]`.
pub(super) fn serve(section: Section<'_>, feeds: &[Feed]) -> ServeSettings {
    let default = ServeSettings::default();
    let count = |key, default| {
        section
            .whole(key)
            .and_then(|whole| usize::try_from(whole).ok())
            .unwrap_or(default)
    };
    let settings = ServeSettings {
        bind: section
            .parsed("bind", |text| text.parse().ok())
            .unwrap_or(default.bind),
        heartbeat_s: section.number("heartbeat_s").unwrap_or(default.heartbeat_s),
        slow_client_s: section
            .number("slow_client_s")
            .unwrap_or(default.slow_client_s),
        mdns_name: section
            .text("mdns_name")
            .map_or(default.mdns_name, str::to_owned),
        names: section
            .parsed_list("names", |text| Ok(text.to_owned()))
            .unwrap_or(default.names),
        touch: section.choice("touch", &TOUCHES).unwrap_or(default.touch),
        look_is_locked: section
            .choice("look", &LOOKS)
            .unwrap_or(default.look_is_locked),
        phones_file: section.form("phones_file").map(PathBuf::from),
        tls: tls(&section),
        history: count("history", default.history),
        connections: count("connections", default.connections),
        streams: count("streams", default.streams),
    };
    for complaint in settings.check() {
        section.place(complaint);
    }
    let port = settings.bind.port();
    let taken = feeds.iter().find(
        |feed| matches!(feed.spec, FeedSpec::TcpServer { bind } if bind.port() == port && port != 0),
    );
    if let Some(feed) = taken {
        section.complain(
            "bind",
            format!("TCP port {port} is already that of feed \"{}\"", feed.name),
            "give each its own",
        );
    }
    section.finish();
    settings
}

/// `tls` of `[serve]`, with its files.
fn tls(section: &Section<'_>) -> Tls {
    let file = |key| section.form(key).map(PathBuf::from);
    let (certificate, key) = (file("certificate_file"), file("key_file"));
    let word = section.form("tls").unwrap_or(TLS_OFF);
    match (word, certificate, key) {
        (TLS_LOCAL, ..) => Tls::Local,
        (TLS_FILES, Some(certificate), Some(key)) => Tls::Files { certificate, key },
        (TLS_FILES, certificate, key) => {
            for (name, file) in [("certificate_file", certificate), ("key_file", key)] {
                if file.is_none() {
                    section.missing(name, "give it, or write tls = \"local\"");
                }
            }
            Tls::Off
        }
        _ => Tls::Off,
    }
}

/// `[alerts]`; `None` without the section: nothing is sent.
pub(super) fn alerts(section: Section<'_>, feeds: &[Feed]) -> Option<AlertSettings> {
    if !section.is_present() {
        return None;
    }
    let address = |key| section.parsed(key, |text| text.parse().ok());
    let baud = section
        .whole("baud")
        .and_then(|baud| u32::try_from(baud).ok())
        .unwrap_or(AlertSettings::BAUD);
    let device = section.form("device").map(PathBuf::from);
    let named = section.form("feed");
    let feed = feeds.iter().find(|feed| Some(feed.name.as_str()) == named);
    if let (Some(name), None) = (named, feed) {
        let cure = "name one of the [[feed]] sections";
        section.complain("feed", format!("no feed is called \"{name}\""), cure);
    }
    let taken = feeds.iter().find(|feed| {
        matches!(&feed.spec, FeedSpec::Serial { device: own, .. } if Some(own) == device.as_ref())
    });
    if let Some(feed) = taken {
        section.complain(
            "device",
            format!("the port is already that of feed \"{}\"", feed.name),
            "give alerts a port of their own",
        );
    }
    let settings = AlertSettings {
        udp: address("udp"),
        tcp: address("tcp"),
        serial: device.map(|device| (device, baud)),
        with_txt: section.flag("txt").unwrap_or(false),
        feed: feed.map(|feed| feed.name.clone()),
    };
    if !settings.go_somewhere() {
        let cure = "give udp, tcp or device, or leave the section out";
        section.complain("", "names no place to send to", cure);
    }
    section.finish();
    Some(settings)
}

/// `[webhook]`; `None` without the section: nothing is posted.
pub(super) fn webhook(section: Section<'_>) -> Option<WebhookSettings> {
    if !section.is_present() {
        return None;
    }
    let address = section.needed_parsed("address", |text| text.parse::<Uri>().ok());
    let secret_file = section.form("secret_file").map(PathBuf::from);
    let place = address.and_then(|address| {
        let place = match (address.scheme_str(), address.authority()) {
            (Some("http"), Some(authority)) => Aboard::of(authority, 80),
            (Some("https"), _) => Err("https is not spoken: on board it is plain http".to_owned()),
            _ => Err("is not an http address".to_owned()),
        };
        let path = address.path_and_query().map_or("/", |path| path.as_str());
        let path = path.to_owned();
        place
            .map_err(|why| section.complain("address", why, ABOARD))
            .ok()
            .map(|to| (to, path))
    });
    section.finish();
    let (to, path) = place?;
    Some(WebhookSettings {
        to,
        path,
        secret_file,
    })
}

/// `[mqtt]`; `None` without the section: nothing is published.
pub(super) fn mqtt(section: Section<'_>) -> Option<MqttSettings> {
    if !section.is_present() {
        return None;
    }
    let broker = section.needed_parsed("broker", |text| text.parse::<Authority>().ok());
    let broker = broker.and_then(|broker| {
        Aboard::of(&broker, MqttSettings::PORT)
            .map_err(|why| section.complain("broker", why, ABOARD))
            .ok()
    });
    let prefix = section.parsed("prefix", |text| is_prefix(text).then(|| text.to_owned()));
    let login_file = section.form("login_file").map(PathBuf::from);
    let numbers_s = section
        .number("numbers_s")
        .unwrap_or(MqttSettings::NUMBERS_S);
    section.finish();
    Some(MqttSettings {
        broker: broker?,
        prefix: prefix.unwrap_or_else(|| MqttSettings::PREFIX.to_owned()),
        login_file,
        numbers_s,
    })
}

/// `[crew]`.
pub(super) fn units(section: Section<'_>) -> CrewUnits {
    let units = CrewUnits {
        length: section.choice("length", &crew::LENGTHS).unwrap_or_default(),
        speed: section.choice("speed", &crew::SPEEDS).unwrap_or_default(),
        weight: section.choice("weight", &crew::WEIGHTS).unwrap_or_default(),
    };
    section.finish();
    units
}

/// `learnt_file` of `[forecast]`.
pub(super) fn learnt_file(forecast: &Section<'_>) -> Option<PathBuf> {
    forecast.form("learnt_file").map(PathBuf::from)
}

/// `[record]`; `None` without the section: nothing is recorded.
pub(super) fn record(section: Section<'_>) -> Option<RecordSettings> {
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

/// `[restart]`.
pub(super) fn restart(section: Section<'_>) -> RestartSettings {
    let default = RestartSettings::default();
    let settings = RestartSettings {
        file: section.form("file").map(PathBuf::from),
        use_within_min: section
            .number("use_within_min")
            .unwrap_or(default.use_within_min),
    };
    section.finish();
    settings
}

/// `[logbook]`.
pub(super) fn logbook(section: Section<'_>) -> LogbookSettings {
    let default = LogbookSettings::default();
    let settings = LogbookSettings {
        file: section.form("file").map(PathBuf::from),
        max_mib: section.whole("max_mib").unwrap_or(default.max_mib),
    };
    section.finish();
    settings
}
