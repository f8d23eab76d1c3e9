//! `skimwatch tls`: whether the pages are encrypted, and how a phone is made to trust them. It only
//! reads: the daemon makes the files, so that they are its user's.

use std::path::Path;

use super::join::{Pages, own_addresses};
use super::{Failure, print_line};
use crate::serve::CERTIFICATE;
use crate::settings::{self, Settings, Tls};
use crate::tls::{AuthorityCertificate, authority_file};

/// What every phone has to be told once. Makers name their menus differently.
const ON_A_PHONE: &str = "\
On each phone, once:
  1. Join the boat's Wi-Fi and open the first address above in the phone's own browser. The phone
     downloads the certificate, or asks whether it may.
  2. Install it. Some phones show it in their settings as a downloaded profile: install it there, then
     turn on full trust for it where the settings list trusted certificates (General, About). On
     others: Settings, Security, more security settings, install a certificate, CA certificate. On a
     computer: the browser's settings, certificates, authorities, import.
  3. Compare the SHA-256 that the phone shows with the one above, digit by digit. If they differ, somebody
     else answered: remove it.
  4. Open the second address. There must be no warning.
The certificate speaks for this boat only: it cannot vouch for any site on the internet.";

pub(super) fn tls(path: &Path) -> Result<(), Failure> {
    let settings = settings::load(path).map_err(Failure::settings)?;
    match &settings.serve.tls {
        Tls::Off => print_line(
            "not encrypted: tls = \"off\" in [serve]. Whoever is on the Wi-Fi can read what goes over it, \
             a crew phone's pass too, and use that. tls = \"local\" encrypts, with a certificate that \
             the daemon makes at its next start",
        ),
        Tls::Files { certificate, key } => print_line(&format!(
            "encrypted with the boat's own certificate: {}, key {}. The daemon reads them again when \
             they change",
            certificate.display(),
            key.display()
        )),
        Tls::Local => local(&settings, path),
    }
}

fn local(settings: &Settings, path: &Path) -> Result<(), Failure> {
    let kept = settings.tls_file(path);
    let file = authority_file(&kept);
    let name = file.display();
    let certificate = AuthorityCertificate::read(&kept).map_err(|why| {
        Failure::unavailable(format!(
            "{name}: {why}. Run this as root (sudo), or as the user of the daemon"
        ))
    })?;
    let Some(certificate) = certificate else {
        return Err(Failure::unavailable(format!(
            "{name} is not there yet: start the daemon once with these settings, it makes it"
        )));
    };
    print_line("encrypted with a local certificate, which the daemon renews by itself.")?;
    print_line(&format!("certificate that phones must trust: {name}"))?;
    print_line(&format!("its SHA-256: {}", certificate.fingerprint))?;
    let bind = settings.serve.bind;
    let page = |encrypted| {
        let pages = Pages {
            address: bind,
            encrypted,
        };
        let ip = own_addresses(bind.ip())
            .first()
            .copied()
            .unwrap_or(bind.ip());
        pages.at(ip)
    };
    let where_it_is = page(false) + CERTIFICATE.trim_start_matches('/');
    print_line(&format!("where a phone gets it: {where_it_is}"))?;
    print_line(&format!("the pages: {}\n", page(true)))?;
    print_line(ON_A_PHONE)
}
