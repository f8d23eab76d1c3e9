//! Names and addresses under which phones ask.

use std::collections::BTreeSet;
use std::net::IpAddr;

/// Names and addresses for which the certificate of the pages is good.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Names {
    /// Host names, in small letters.
    pub hosts: BTreeSet<String>,
    /// Addresses.
    pub addresses: BTreeSet<IpAddr>,
}

impl Names {
    /// This computer by itself, and what others call it: the name on the boat's network (without
    /// `.local`; empty for none), further names, addresses.
    #[must_use]
    pub fn new(
        mdns_name: &str,
        further: &[String],
        addresses: impl IntoIterator<Item = IpAddr>,
    ) -> Self {
        let uname = rustix::system::uname();
        let own = uname.nodename().to_str().unwrap_or_default();
        let (own, _) = own.split_once('.').unwrap_or((own, ""));
        let mut hosts = vec!["localhost".to_owned()];
        let labels = [mdns_name, own]
            .into_iter()
            .filter(|label| !label.is_empty());
        hosts.extend(labels.map(|label| format!("{label}.local")));
        hosts.extend_from_slice(further);
        let here = ["127.0.0.1", "::1"].map(|ip| ip.parse());
        Self {
            hosts: hosts
                .into_iter()
                .map(|host| host.to_ascii_lowercase())
                .filter(|host| is_host_name(host))
                .collect(),
            addresses: addresses
                .into_iter()
                .chain(here.into_iter().flatten())
                .collect(),
        }
    }

    /// All of them as texts.
    pub(super) fn texts(&self) -> Vec<String> {
        let addresses = self.addresses.iter().map(ToString::to_string);
        self.hosts.iter().cloned().chain(addresses).collect()
    }
}

fn is_host_name(host: &str) -> bool {
    (1..=253).contains(&host.len())
        && host.split('.').all(|label| {
            !label.is_empty()
                && label
                    .bytes()
                    .all(|b| b.is_ascii_alphanumeric() || b == b'-')
        })
}
