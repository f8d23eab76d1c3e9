//! `[serve]`: the address of the pages and the bounds of the HTTP room. `[crew]`: the units that
//! people read.

use super::reader::Section;
use crate::feed::{Feed, FeedSpec};
use crate::serve::{CrewUnits, LengthUnit, ServeSettings, SpeedUnit, WeightUnit};

pub(super) fn read(section: Section<'_>, feeds: &[Feed]) -> ServeSettings {
    let mut settings = ServeSettings::default();
    let whole = |key, slot: &mut usize| {
        if let Some(value) = section.whole(key) {
            *slot = usize::try_from(value).unwrap_or(usize::MAX);
        }
    };
    if let Some(bind) = section.parsed(
        "bind",
        |text| text.parse().ok(),
        "address:port, such as 127.0.0.1:8477 for this computer alone or 0.0.0.0:8477 for the phones aboard",
    ) {
        settings.bind = bind;
    }
    if let Some(value) = section.any_number("heartbeat_s") {
        settings.heartbeat_s = value;
    }
    if let Some(value) = section.any_number("slow_client_s") {
        settings.slow_client_s = value;
    }
    if let Some(name) = section.text("mdns_name") {
        name.clone_into(&mut settings.mdns_name);
    }
    if let Some(names) = section.parsed_list("names", |text| Ok(text.to_owned())) {
        settings.names = names;
    }
    whole("history", &mut settings.history);
    whole("connections", &mut settings.connections);
    whole("streams", &mut settings.streams);
    for wrong in settings.check() {
        section.complain(
            wrong.key,
            "is out of range",
            format!("allowed: {}", wrong.allowed),
        );
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

pub(super) fn read_crew_units(section: Section<'_>) -> CrewUnits {
    let mut units = CrewUnits::default();
    let length = [("m", LengthUnit::Metres), ("ft", LengthUnit::Feet)];
    let speed = [
        ("kn", SpeedUnit::Knots),
        ("m/s", SpeedUnit::MetresPerSecond),
    ];
    let weight = [("kg", WeightUnit::Kilograms), ("lb", WeightUnit::Pounds)];
    if let Some(unit) = section.choice("length", &length) {
        units.length = unit;
    }
    if let Some(unit) = section.choice("speed", &speed) {
        units.speed = unit;
    }
    if let Some(unit) = section.choice("weight", &weight) {
        units.weight = unit;
    }
    section.finish();
    units
}
