//! What a certificate says: whom it names, and when it holds.

use std::path::Path;
use std::time::Duration;

use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName, UnixTime};
use webpki::{EndEntityCert, Error, KeyUsage};

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
    /// Host names that it is good for, and those addresses of [`look`](Self::look) that it is good for.
    pub names: Vec<String>,
    /// Names and addresses of [`look`](Self::look) that it is not good for.
    pub leaves_out: Vec<String>,
    /// From when it holds.
    pub from: Millis,
    /// Until when.
    pub until: Millis,
}

impl PageCertificate {
    /// By the settings; `kept` is where the local authority is kept, `asked` tells under which names and
    /// addresses phones ask. `None` when nothing is encrypted, or the daemon has made none yet. Only
    /// reads.
    ///
    /// # Errors
    /// When there is none that could be used, or it may not be read.
    pub fn look(tls: &Tls, kept: &Path, asked: &Names) -> Result<Option<Self>, TlsError> {
        match tls {
            Tls::Off => Ok(None),
            Tls::Files { certificate, key } => {
                let chain = OwnFiles::new(certificate.clone(), key.clone()).fitting_chain()?;
                let found = Self::of(&chain, asked).map(Some);
                found.map_err(|why| TlsError::Unfit {
                    key: "certificate_file",
                    file: certificate.display().to_string(),
                    why,
                })
            }
            Tls::Local => {
                let Some(chain) = page_chain(kept)? else {
                    return Ok(None);
                };
                let found = Self::of(&chain, asked).map(Some);
                found.map_err(|why| TlsError::NoCertificate { why })
            }
        }
    }

    /// The first of a PEM text.
    fn of(chain: &[u8], asked: &Names) -> Result<Self, String> {
        let chain = pem::chain(chain)?;
        let first = chain.first().ok_or("there is no certificate in it")?;
        let read = EndEntityCert::try_from(first).map_err(|why| why.to_string())?;
        let is_good_for = |name: &String| {
            ServerName::try_from(name.as_str())
                .is_ok_and(|name| read.verify_is_valid_for_subject_name(&name).is_ok())
        };
        let mut names: Vec<_> = read.valid_dns_names().map(str::to_owned).collect();
        let (good_for, leaves_out): (Vec<_>, Vec<_>) =
            asked.texts().into_iter().partition(is_good_for);
        names.extend(good_for);
        names.sort();
        names.dedup();
        let (from, until) = days(&read)?;
        Ok(Self {
            names,
            leaves_out,
            from,
            until,
        })
    }
}

/// From when until when it holds: what a check says at the beginning and at the end of all time.
fn days(certificate: &EndEntityCert<'_>) -> Result<(Millis, Millis), String> {
    let checked = |at_s| {
        let at = UnixTime::since_unix_epoch(Duration::from_secs(at_s));
        let nobody: &[CertificateDer<'_>] = &[];
        let usage = KeyUsage::server_auth();
        certificate.verify_for_usage(&[], &[], nobody, at, usage, None, None)
    };
    let millis = |moment: UnixTime| {
        let seconds = i64::try_from(moment.as_secs()).unwrap_or(i64::MAX);
        Millis(seconds.saturating_mul(1000))
    };
    let from = match checked(0) {
        Err(Error::CertNotValidYet { not_before, .. }) => millis(not_before),
        Err(Error::InvalidCertValidity | Error::BadDer) => {
            return Err("its days cannot be read".to_owned());
        }
        _ => Millis(0),
    };
    match checked(u64::MAX) {
        Err(Error::CertExpired { not_after, .. }) => Ok((from, millis(not_after))),
        _ => Err("its days cannot be read".to_owned()),
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
        let asked = Names {
            hosts: ["skiff.local", "a.boat.example", "a.b.boat.example"]
                .map(str::to_owned)
                .into(),
            addresses: ["192.168.4.1", "192.168.4.2", "fd00::1"]
                .map(|ip| ip.parse().unwrap())
                .into(),
        };
        let found = PageCertificate::of(pem.as_bytes(), &asked).unwrap();
        let names = [
            "*.boat.example",
            "192.168.4.1",
            "a.boat.example",
            "fd00::1",
            "skiff.local",
        ];
        assert_eq!(found.names, names);
        // A `*` stands for one label (RFC 6125, 6.4.3).
        assert_eq!(found.leaves_out, ["a.b.boat.example", "192.168.4.2"]);
        assert_eq!(found.from.to_string(), "2026-01-01T00:00:00.000Z");
        assert_eq!(found.until.to_string(), "2026-12-31T00:00:00.000Z");
    }

    #[test]
    fn files_are_looked_at_as_a_start_would() {
        let dir = tempfile::tempdir().unwrap();
        let [certificate, key] = ["boat.crt", "boat.key"].map(|name| dir.path().join(name));
        let tls = Tls::Files {
            certificate: certificate.clone(),
            key: key.clone(),
        };
        let nobody = Names::default();
        let look = || PageCertificate::look(&tls, dir.path(), &nobody);
        let complaint = || look().unwrap_err().to_string();
        assert!(complaint().contains("cannot be read"), "{}", complaint());
        let ((pem, own), (_, other)) = (made(&["localhost"]), made(&["localhost"]));
        std::fs::write(&certificate, pem).unwrap();
        std::fs::write(&key, other).unwrap();
        assert!(complaint().contains("Both files are PEM"));
        std::fs::write(&key, own).unwrap();
        assert_eq!(look().unwrap().unwrap().names, ["localhost"]);
        // Where nothing is encrypted, or nothing made yet, there is none.
        for tls in [Tls::Off, Tls::Local] {
            let found = PageCertificate::look(&tls, &dir.path().join("none"), &nobody);
            assert_eq!(found.unwrap(), None);
        }
    }
}
