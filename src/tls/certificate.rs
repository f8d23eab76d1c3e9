//! What a certificate says: whom it names, and when it holds.

use std::collections::BTreeSet;
use std::net::IpAddr;
use std::path::Path;

use x509_parser::extensions::GeneralName;
use x509_parser::parse_x509_certificate;

use super::authority::page_chain;
use super::error::TlsError;
use super::names::Names;
use super::own_files::OwnFiles;
use super::pem;
use crate::settings::Tls;
use crate::time::Millis;

/// The certificate that the pages show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PageCertificate {
    /// For whom it is good; a host may begin with `*.`.
    pub names: Names,
    /// From when it holds.
    pub from: Millis,
    /// Until when.
    pub until: Millis,
}

impl PageCertificate {
    /// By the settings; `kept` is where the local authority is kept. `None` when nothing is encrypted,
    /// or the daemon has not made it yet. Only reads.
    ///
    /// # Errors
    /// When there is none that could be used, or it may not be read.
    pub fn look(tls: &Tls, kept: &Path) -> Result<Option<Self>, TlsError> {
        match tls {
            Tls::Off => Ok(None),
            Tls::Files { certificate, key } => {
                let chain = OwnFiles::new(certificate.clone(), key.clone()).fitting_chain()?;
                Self::of(&chain).map(Some).map_err(|why| TlsError::Unfit {
                    key: "certificate_file",
                    file: certificate.display().to_string(),
                    why,
                })
            }
            Tls::Local => {
                let Some(chain) = page_chain(kept)? else {
                    return Ok(None);
                };
                let found = Self::of(&chain).map(Some);
                found.map_err(|why| TlsError::NoCertificate { why })
            }
        }
    }

    /// The first of a PEM text.
    fn of(chain: &[u8]) -> Result<Self, String> {
        let chain = pem::chain(chain)?;
        let first = chain.first().ok_or("there is no certificate in it")?;
        let (_, read) = parse_x509_certificate(first).map_err(|why| why.to_string())?;
        let mut names = Names::default();
        let alternatives = (read.subject_alternative_name()).map_err(|why| why.to_string())?;
        for name in alternatives.iter().flat_map(|all| &all.value.general_names) {
            match name {
                GeneralName::DNSName(host) => {
                    names.hosts.insert(host.to_ascii_lowercase());
                }
                GeneralName::IPAddress(bytes) => names.addresses.extend(address(bytes)),
                _ => {}
            }
        }
        let validity = read.validity();
        let [from, until] = [validity.not_before, validity.not_after]
            .map(|moment| Millis(moment.timestamp().saturating_mul(1000)));
        Ok(Self { names, from, until })
    }

    /// Those of these names and addresses for which it is not good.
    #[must_use]
    pub fn leaves_out(&self, asked: &Names) -> Vec<String> {
        let hosts = asked.hosts.iter().filter(|host| !self.is_for(host));
        let addresses = asked.addresses.difference(&self.names.addresses);
        let addresses = addresses.map(ToString::to_string);
        hosts.cloned().chain(addresses).collect()
    }

    /// A `*` stands for one label, the first (RFC 6125, 6.4.3).
    fn is_for(&self, host: &str) -> bool {
        let any = host.split_once('.').map(|(_, rest)| format!("*.{rest}"));
        let named = |name: &str| self.names.hosts.contains(name);
        named(host) || any.is_some_and(|any| named(&any))
    }

    /// All of whom it names.
    #[must_use]
    pub fn named(&self) -> BTreeSet<String> {
        self.names.texts().into_iter().collect()
    }
}

/// An address as certificates hold it, 4 or 16 bytes (RFC 5280, 4.2.1.6).
fn address(bytes: &[u8]) -> Option<IpAddr> {
    match bytes.len() {
        4 => <[u8; 4]>::try_from(bytes).ok().map(IpAddr::from),
        16 => <[u8; 16]>::try_from(bytes).ok().map(IpAddr::from),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use rcgen::{CertificateParams, KeyPair, date_time_ymd};

    use super::*;

    fn made(names: &[&str]) -> (String, String) {
        let key = KeyPair::generate().unwrap();
        let names: Vec<String> = names.iter().map(ToString::to_string).collect();
        let mut params = CertificateParams::new(names).unwrap();
        params.not_before = date_time_ymd(2026, 1, 1);
        params.not_after = date_time_ymd(2026, 12, 31);
        (params.self_signed(&key).unwrap().pem(), key.serialize_pem())
    }

    #[test]
    fn it_says_whom_it_names_and_until_when() {
        let (pem, _) = made(&["skiff.local", "*.boat.example", "192.168.4.1", "fd00::1"]);
        let found = PageCertificate::of(pem.as_bytes()).unwrap();
        let named: Vec<_> = found.named().into_iter().collect();
        assert_eq!(
            named,
            ["*.boat.example", "192.168.4.1", "fd00::1", "skiff.local"]
        );
        assert_eq!(found.from.to_string(), "2026-01-01T00:00:00.000Z");
        assert_eq!(found.until.to_string(), "2026-12-31T00:00:00.000Z");
        let asked = Names {
            hosts: [
                "skiff.local",
                "a.boat.example",
                "a.b.boat.example",
                "boat.example",
            ]
            .map(str::to_owned)
            .into(),
            addresses: ["192.168.4.1", "192.168.4.2"]
                .map(|ip| ip.parse().unwrap())
                .into(),
        };
        assert_eq!(
            found.leaves_out(&asked),
            ["a.b.boat.example", "boat.example", "192.168.4.2"]
        );
    }

    #[test]
    fn files_are_looked_at_as_a_start_would() {
        let dir = tempfile::tempdir().unwrap();
        let [certificate, key] = ["boat.crt", "boat.key"].map(|name| dir.path().join(name));
        let tls = Tls::Files {
            certificate: certificate.clone(),
            key: key.clone(),
        };
        let look = || PageCertificate::look(&tls, dir.path());
        let complaint = || look().unwrap_err().to_string();
        assert!(complaint().contains("cannot be read"), "{}", complaint());
        let ((pem, own), (_, other)) = (made(&["localhost"]), made(&["localhost"]));
        std::fs::write(&certificate, pem).unwrap();
        std::fs::write(&key, other).unwrap();
        assert!(complaint().contains("Both files are PEM"));
        std::fs::write(&key, own).unwrap();
        let found = look().unwrap().unwrap();
        assert_eq!(found.named(), ["localhost".to_owned()].into());
        // Where nothing is encrypted, or nothing made yet, there is none.
        for tls in [Tls::Off, Tls::Local] {
            let found = PageCertificate::look(&tls, &dir.path().join("none"));
            assert_eq!(found.unwrap(), None);
        }
    }
}
