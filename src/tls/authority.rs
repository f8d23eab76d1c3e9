//! The local authority: made once and kept, and the certificate of the pages that it signs.

use std::fs::Permissions;
use std::io;
use std::net::IpAddr;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};

use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType,
    ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose,
    NameConstraints, date_time_ymd,
};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use time::{Duration, OffsetDateTime};
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::pki_types::CertificateDer;
use tokio_rustls::rustls::pki_types::pem::PemObject as _;

use super::error::TlsError;
use super::names::Names;
use super::pem;
use crate::files::{beside, replace, replace_private, small_text};
use crate::settings::{NETWORKS_ABOARD, is_aboard};

/// For everybody to read.
const PUBLIC: u32 = 0o644;
/// Days for which a certificate of the pages is good: less than the most that phones take from an
/// authority that a person has installed (825; from memory).
const GOOD_DAYS: i64 = 397;
/// Days before its end from which it is renewed.
const RENEW_DAYS: i64 = 60;
/// Names and addresses in one certificate.
const MOST_NAMES: usize = 40;
/// Names that no site on the internet can have: mDNS (RFC 6762), RFC 6761, RFC 8375, and two that
/// routers use (common practice, no source).
const PRIVATE_NAMES: [&str; 5] = ["local", "localhost", "home.arpa", "lan", "internal"];
/// What is kept.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    /// PEM of the authority.
    authority: String,
    authority_key: String,
    /// Host names that it may sign besides [`PRIVATE_NAMES`].
    further_names: Vec<String>,
    page: Option<Page>,
}

/// The certificate of the pages.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Page {
    certificate: String,
    key: String,
    names: Vec<String>,
    /// Unix seconds.
    made_at: i64,
}

/// What a phone needs to trust the pages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuthorityCertificate {
    /// The certificate of the authority.
    pub pem: String,
    /// SHA-256 of it, as phones show it.
    pub fingerprint: String,
}

/// Where the certificate of an authority is that is kept in this file.
#[must_use]
pub fn authority_file(kept: &Path) -> PathBuf {
    beside(kept, ".crt")
}

/// The authority.
pub(super) struct Authority {
    file: PathBuf,
    kept: Kept,
}

impl std::fmt::Debug for Authority {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Authority")
            .field("file", &self.file)
            .finish_non_exhaustive()
    }
}

impl AuthorityCertificate {
    fn of(pem: &str) -> Result<Self, String> {
        let der = CertificateDer::from_pem_slice(pem.as_bytes()).map_err(|why| why.to_string())?;
        let digest = Sha256::digest(&der);
        let pairs: Vec<_> = digest.iter().map(|byte| format!("{byte:02X}")).collect();
        Ok(Self {
            pem: pem.to_owned(),
            fingerprint: pairs.join(":"),
        })
    }

    /// Of the authority that is kept in a file; `None` when there is none yet.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub fn read(file: &Path) -> Result<Option<Self>, String> {
        match small_text(&authority_file(file)) {
            Ok(None) => Ok(None),
            Ok(Some(pem)) => Self::of(&pem).map(Some),
            Err(why) => Err(why.to_string()),
        }
    }
}

impl Authority {
    /// Reads it, or makes it where there is none. One that cannot be read is never replaced: phones
    /// trust it.
    ///
    /// # Errors
    /// Why there is none.
    pub fn open(file: &Path, names: &Names) -> Result<Self, String> {
        let kept = match small_text(file).map_err(|why| why.to_string())? {
            Some(text) => serde_json::from_str(&text).map_err(|why| why.to_string())?,
            None => {
                let kept = make(names).map_err(|why| why.to_string())?;
                write(file, &kept).map_err(|why| why.to_string())?;
                kept
            }
        };
        let authority = Self {
            file: file.to_owned(),
            kept,
        };
        let public = authority_file(file);
        if small_text(&public).ok().flatten().as_ref() != Some(&authority.kept.authority) {
            replace(&public, authority.kept.authority.as_bytes(), |file| {
                file.set_permissions(Permissions::from_mode(PUBLIC))
            })
            .map_err(|why| format!("{}: {why}", public.display()))?;
        }
        Ok(authority)
    }

    pub fn certificate(&self) -> Result<AuthorityCertificate, String> {
        AuthorityCertificate::of(&self.kept.authority)
    }

    /// What is to be used from now on; `None` when that is what was given last. It may come with a
    /// warning.
    pub fn config_for(
        &mut self,
        names: &Names,
        now: OffsetDateTime,
        is_first: bool,
    ) -> Result<Option<ServerConfig>, String> {
        let (signed, left_out) = self.signed_and_left_out(names);
        let mut wanted = signed.texts();
        let good = |page: &&Page| {
            wanted.iter().all(|name| page.names.contains(name)) && is_good(page.made_at, now)
        };
        if let Some(page) = self.kept.page.as_ref().filter(good) {
            return if is_first {
                config(page).map(Some)
            } else {
                Ok(None)
            };
        }
        if !left_out.is_empty() {
            tracing::warn!(
                "the local certificate is not good for {}: its authority may not sign bare labels, \
                 addresses off the boat, or names that came after it was made. For those names delete \
                 {} and start again; then every phone must trust the new one",
                left_out.join(", "),
                self.file.display()
            );
        }
        // An address that is gone for a while, because the Wi-Fi is, needs no other certificate twice.
        let before = self.kept.page.iter().flat_map(|page| &page.names);
        let stay: Vec<_> = before
            .filter(|name| !wanted.contains(name))
            .cloned()
            .collect();
        let room = MOST_NAMES.saturating_sub(wanted.len());
        wanted.extend(stay.into_iter().take(room));
        let page = self.sign(wanted, now).map_err(|why| why.to_string())?;
        let config = config(&page)?;
        self.kept.page = Some(page);
        if let Err(why) = write(&self.file, &self.kept) {
            tracing::warn!(
                "{}: the new certificate is not kept ({why}); after a restart there is another",
                self.file.display()
            );
        }
        Ok(Some(config))
    }

    /// The names that it may sign, and the others.
    fn signed_and_left_out(&self, names: &Names) -> (Names, Vec<String>) {
        let further = self.kept.further_names.iter().map(String::as_str);
        let allowed: Vec<&str> = PRIVATE_NAMES.into_iter().chain(further).collect();
        let may_host = |host: &String| allowed.iter().any(|name| is_below(host, name));
        let (hosts, mut left_out): (Vec<_>, Vec<_>) =
            names.hosts.iter().cloned().partition(may_host);
        let (addresses, others): (Vec<IpAddr>, Vec<_>) =
            names.addresses.iter().partition(|ip| is_aboard(**ip));
        left_out.extend(others.iter().map(ToString::to_string));
        let signed = Names {
            hosts: hosts.into_iter().collect(),
            addresses: addresses.into_iter().collect(),
        };
        (signed, left_out)
    }

    fn sign(&self, names: Vec<String>, now: OffsetDateTime) -> Result<Page, rcgen::Error> {
        let authority_key = KeyPair::from_pem(&self.kept.authority_key)?;
        let issuer = Issuer::new(authority_params(&authority_key), authority_key);
        let key = KeyPair::generate()?;
        let mut params = CertificateParams::new(names.clone())?;
        params.distinguished_name = named("skimwatch on this boat".to_owned());
        params.not_before = now - Duration::days(2);
        params.not_after = now + Duration::days(GOOD_DAYS);
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        params.use_authority_key_identifier_extension = true;
        Ok(Page {
            certificate: params.signed_by(&key, &issuer)?.pem(),
            key: key.serialize_pem(),
            names,
            made_at: now.unix_timestamp(),
        })
    }
}

/// The PEM text of the certificate of the pages of an authority that is kept in this file; `None` when
/// none is made yet.
///
/// # Errors
/// When it may not be read, or is damaged.
pub(super) fn page_chain(file: &Path) -> Result<Option<Vec<u8>>, TlsError> {
    let name = || file.display().to_string();
    let text = small_text(file).map_err(|why| match why.kind() {
        io::ErrorKind::PermissionDenied => TlsError::Hidden { file: name(), why },
        _ => TlsError::NoAuthority {
            file: name(),
            why: why.to_string(),
        },
    })?;
    let Some(text) = text else { return Ok(None) };
    let kept: Kept = serde_json::from_str(&text).map_err(|why| TlsError::NoAuthority {
        file: name(),
        why: why.to_string(),
    })?;
    Ok(kept.page.map(|page| page.certificate.into_bytes()))
}

/// Whether a certificate that was made then is to be used now.
fn is_good(made_at: i64, now: OffsetDateTime) -> bool {
    const DAY_S: i64 = 24 * 3600;
    let age_s = now.unix_timestamp() - made_at;
    (-DAY_S..(GOOD_DAYS - RENEW_DAYS) * DAY_S).contains(&age_s)
}

/// Whether a host name is one of another's, or that itself.
fn is_below(host: &str, name: &str) -> bool {
    host.strip_suffix(name)
        .is_some_and(|rest| rest.is_empty() || rest.ends_with('.'))
}

fn named(name: String) -> DistinguishedName {
    let mut named = DistinguishedName::new();
    named.push(DnType::CommonName, name);
    named
}

/// What of an authority depends on its key alone. Two boats' authorities on one phone differ in name.
fn authority_params(key: &KeyPair) -> CertificateParams {
    let digest = Sha256::digest(key.public_key_raw());
    let mark: String = digest
        .iter()
        .take(3)
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let mut params = CertificateParams::default();
    params.distinguished_name = named(format!("skimwatch, this boat's pages ({mark})"));
    params.not_before = date_time_ymd(2020, 1, 1);
    params.not_after = date_time_ymd(2049, 12, 31);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    params
}

/// A new authority that may sign these names.
fn make(names: &Names) -> Result<Kept, rcgen::Error> {
    let key = KeyPair::generate()?;
    // A bare label would stand for all that is below it, and some labels are domains of the internet.
    let is_further = |host: &&String| {
        host.contains('.') && !PRIVATE_NAMES.iter().any(|name| is_below(host, name))
    };
    let further_names: Vec<String> = names.hosts.iter().filter(is_further).cloned().collect();
    let hosts = PRIVATE_NAMES.into_iter().map(str::to_owned);
    let hosts = hosts
        .chain(further_names.iter().cloned())
        .map(GeneralSubtree::DnsName);
    let networks = NETWORKS_ABOARD.map(|(network, length)| {
        GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(network, length))
    });
    let mut params = authority_params(&key);
    params.name_constraints = Some(NameConstraints {
        permitted_subtrees: hosts.chain(networks).collect(),
        excluded_subtrees: Vec::new(),
    });
    Ok(Kept {
        authority: params.self_signed(&key)?.pem(),
        authority_key: key.serialize_pem(),
        further_names,
        page: None,
    })
}

fn config(page: &Page) -> Result<ServerConfig, String> {
    let chain = pem::chain(page.certificate.as_bytes())?;
    let key = pem::key(page.key.as_bytes())?;
    pem::config(chain, key).map_err(|why| why.to_string())
}

fn write(path: &Path, kept: &Kept) -> io::Result<()> {
    replace_private(path, &serde_json::to_vec_pretty(kept)?)
}
