//! TLS: the local authority, the boat's own files, who is refused, and handshakes that stall. That a
//! certificate is good is judged by rustls and, independently, by the OpenSSL of Python.

use std::io;
use std::net::SocketAddr;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::body::{Body, Bytes, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use hyper::client::conn::http1;
use hyper_util::rt::TokioIo;
use rcgen::{CertificateParams, KeyPair};
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};
use skimwatch::settings::{ServeSettings, Tls};
use skimwatch::tls::{Encryption, Names, authority_file};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::pki_types::pem::PemObject as _;
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName};
use tokio_rustls::rustls::{ClientConfig, RootCertStore, crypto};
use tokio_util::sync::CancellationToken;

use crate::PATIENCE;
use crate::learnt::{skimwatch, told_to_end};
use crate::serving::{Running, advice, run_with};
use crate::started::{Started, quick_boat};

/// A phone that trusts one certificate, or none.
fn phone(trusted: Option<&str>) -> TlsConnector {
    let mut roots = RootCertStore::empty();
    if let Some(pem) = trusted {
        let certificate = CertificateDer::from_pem_slice(pem.as_bytes()).unwrap();
        roots.add(certificate).unwrap();
    }
    let provider = Arc::new(crypto::ring::default_provider());
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    TlsConnector::from(Arc::new(config))
}

fn place(base: &str) -> SocketAddr {
    base.rsplit_once("//").unwrap().1.parse().unwrap()
}

async fn shake(
    to: SocketAddr,
    name: &str,
    trusted: Option<&str>,
) -> io::Result<TlsStream<TcpStream>> {
    let stream = TcpStream::connect(to).await?;
    let name = ServerName::try_from(name.to_owned()).unwrap();
    phone(trusted).connect(name, stream).await
}

/// The certificate that is shown there.
async fn shown(to: SocketAddr, trusted: &str) -> CertificateDer<'static> {
    let stream = shake(to, "localhost", Some(trusted)).await.unwrap();
    let (_, session) = stream.get_ref();
    session.peer_certificates().unwrap()[0].clone().into_owned()
}

struct Answer {
    status: StatusCode,
    headers: HeaderMap,
    body: Bytes,
}

/// One request over TLS, by a phone that trusts this.
async fn ask(to: SocketAddr, trusted: &str, request: Request<Body>) -> Answer {
    let stream = shake(to, "127.0.0.1", Some(trusted)).await.unwrap();
    let (mut sender, connection) = http1::handshake(TokioIo::new(stream)).await.unwrap();
    tokio::spawn(connection);
    let (head, body) = sender.send_request(request).await.unwrap().into_parts();
    Answer {
        status: head.status,
        headers: head.headers,
        body: to_bytes(Body::new(body), 4 << 20).await.unwrap(),
    }
}

fn request(to: SocketAddr, method: Method, path: &str) -> axum::http::request::Builder {
    Request::builder()
        .method(method)
        .uri(path)
        .header(header::HOST, to.to_string())
}

fn get(to: SocketAddr, path: &str) -> Request<Body> {
    request(to, Method::GET, path).body(Body::empty()).unwrap()
}

/// A boat whose pages are encrypted.
struct Boat {
    dir: tempfile::TempDir,
    settings: PathBuf,
}

impl Boat {
    fn new(serve: &str) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let settings = dir.path().join("boat.toml");
        let feed = "kind = \"udp\"\nbind = \"127.0.0.1:0\"";
        // A port that commands at the console find in the settings.
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let bind = free.local_addr().unwrap();
        let text = quick_boat(feed, &format!("{serve}\n"));
        let text = text.replace("127.0.0.1:0\"\nmdns", &format!("{bind}\"\nmdns"));
        std::fs::write(&settings, text).unwrap();
        Self { dir, settings }
    }

    fn start(&self) -> Started {
        Started::unheard(&["run", "--settings", self.settings.to_str().unwrap()])
    }

    fn kept(&self) -> PathBuf {
        self.dir.path().join("boat.toml.tls")
    }

    fn authority(&self) -> String {
        std::fs::read_to_string(authority_file(&self.kept())).unwrap()
    }

    /// The first that the doctor says of encryption.
    fn doctor_on_tls(&self) -> (String, String) {
        let settings = self.settings.to_str().unwrap();
        let output = skimwatch(&["doctor", "--json", "--settings", settings]);
        let all: Value = serde_json::from_slice(&output.stdout).unwrap();
        let mut findings = all["findings"].as_array().unwrap().iter();
        let found = findings.find(|finding| finding["about"] == "tls").unwrap();
        let word = |member: &str| found[member].as_str().unwrap().to_owned();
        (word("verdict"), word("words"))
    }

    fn tls(&self) -> String {
        let output = skimwatch(&["tls", "--settings", self.settings.to_str().unwrap()]);
        String::from_utf8([output.stdout, output.stderr].concat()).unwrap()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_phone_that_trusts_the_local_authority_is_served_and_no_other() {
    let boat = Boat::new("tls = \"local\"");
    let none = boat.tls();
    assert!(none.contains("start the daemon once"), "{none}");
    let (verdict, words) = boat.doctor_on_tls();
    assert_eq!(verdict, "note", "{words}");
    let daemon = boat.start();
    assert!(
        daemon.base.starts_with("https://127.0.0.1:"),
        "{}",
        daemon.base
    );
    let to = place(&daemon.base);
    let authority = boat.authority();
    let (verdict, words) = boat.doctor_on_tls();
    assert_eq!(verdict, "good", "{words}");
    assert!(
        words.contains("127.0.0.1") && words.contains("localhost"),
        "{words}"
    );
    let page = ask(to, &authority, get(to, "/")).await;
    assert_eq!(page.status, 200);
    assert!(!page.headers.contains_key("strict-transport-security"));
    for (name, is_good) in [
        ("localhost", true),
        ("127.0.0.1", true),
        ("evil.example", false),
    ] {
        let shaken = shake(to, name, Some(&authority)).await;
        assert_eq!(shaken.is_ok(), is_good, "{name}");
    }
    // One that trusts nobody, and one that trusts another boat.
    assert!(shake(to, "localhost", None).await.is_err());
    let other = Boat::new("tls = \"local\"");
    let other_daemon = other.start();
    let stranger = other.authority();
    assert!(shake(to, "localhost", Some(&stranger)).await.is_err());
    told_to_end(other_daemon);
    // The key is the owner's; the certificate is everybody's, and is what the page gives.
    let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&boat.kept()), 0o600);
    let given = ask(to, &authority, get(to, "/boat-certificate.crt")).await;
    assert_eq!(given.body, authority.as_bytes());
    assert_eq!(given.headers["content-type"], "application/x-x509-ca-cert");
    let der = CertificateDer::from_pem_slice(authority.as_bytes()).unwrap();
    let digits: Vec<_> = Sha256::digest(&der)
        .iter()
        .map(|byte| format!("{byte:02X}"))
        .collect();
    let fingerprint = digits.join(":");
    let said = boat.tls();
    assert!(said.contains(&fingerprint), "{said}");
    let phone = ask(to, &authority, get(to, "/v1/phone")).await;
    let phone: Value = serde_json::from_slice(&phone.body).unwrap();
    assert_eq!(phone["encrypted"], true);
    assert_eq!(phone["certificate"]["sha256"], fingerprint);
    // On this computer itself plain HTTP goes on, for the console.
    let plain = reqwest::get(format!("http://{to}/v1/phone")).await.unwrap();
    let plain: Value = plain.json().await.unwrap();
    assert_eq!(plain["encrypted"], false);
    let before = shown(to, &authority).await;
    told_to_end(daemon);
    // After a restart nothing is to be trusted anew.
    let daemon = boat.start();
    assert_eq!(boat.authority(), authority);
    assert_eq!(shown(place(&daemon.base), &authority).await, before);
    told_to_end(daemon);
    // A damaged file is told, never replaced.
    std::fs::write(boat.kept(), "not ours").unwrap();
    let output = skimwatch(&["run", "--settings", boat.settings.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(69));
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        words.contains("boat.toml.tls") && words.contains("move a damaged file away"),
        "{words}"
    );
    assert_eq!(std::fs::read_to_string(boat.kept()).unwrap(), "not ours");
}

/// Asks an address and prints the status; a name that does not fit, or nobody trusted, is an error.
const PYTHON: &str = "
import socket, ssl, sys
host, port, name, trusted = sys.argv[1:]
context = ssl.create_default_context(cafile=trusted)
context.verify_flags |= ssl.VERIFY_X509_STRICT
with socket.create_connection((host, int(port))) as plain:
    with context.wrap_socket(plain, server_hostname=name) as stream:
        stream.sendall(b'GET /healthz HTTP/1.0\\r\\n\\r\\n')
        print(stream.version(), stream.recv(12).decode())
";

#[test]
fn openssl_takes_the_certificate_too_and_only_for_its_names() {
    let python = Command::new("python3")
        .arg("--version")
        .stdout(Stdio::null())
        .status();
    if python.is_err() {
        assert!(std::env::var_os("CI").is_none(), "no python3");
        println!("skipped: no python3");
        return;
    }
    let boat =
        Boat::new("tls = \"local\"\nnames = [\"chart-table\", \"table.lan\", \"boat.example\"]");
    let daemon = boat.start();
    let to = place(&daemon.base);
    let asks = |name: &str| {
        Command::new("python3")
            .args(["-c", PYTHON, "127.0.0.1", &to.port().to_string(), name])
            .arg(authority_file(&boat.kept()))
            .output()
            .unwrap()
    };
    for name in ["127.0.0.1", "localhost", "table.lan", "boat.example"] {
        let output = asks(name);
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            said.starts_with("TLSv1.3 HTTP/1."),
            "{name}: {said}{complaint}"
        );
    }
    // A bare label is not signed: it would stand for all that is below it.
    for name in ["evil.example", "chart-table"] {
        assert!(!asks(name).status.success(), "{name}");
    }
    told_to_end(daemon);
}

#[tokio::test]
async fn an_authority_signs_for_nobody_but_the_boat() {
    let dir = tempfile::tempdir().unwrap();
    let kept = dir.path().join("tls.json");
    let open = |further: &[&str], addresses: &[&str]| {
        let further: Vec<String> = further.iter().map(ToString::to_string).collect();
        let addresses: Vec<_> = addresses.iter().map(|ip| ip.parse().unwrap()).collect();
        let names = move || Names::new("skiff", &further, addresses.clone());
        let opened = Encryption::open(&Tls::Local, &kept, names, CancellationToken::new());
        opened.unwrap().unwrap().0
    };
    let trusted = |encryption: &Encryption| encryption.authority.clone().unwrap().pem.clone();
    // Two ends of one pipe.
    let shakes = async |encryption: &Encryption, name: &'static str| {
        let (ours, theirs) = tokio::io::duplex(64 * 1024);
        let phone = phone(Some(&trusted(encryption)));
        let (ours, theirs) = tokio::join!(
            encryption.accept(ours),
            phone.connect(ServerName::try_from(name).unwrap(), theirs)
        );
        ours.is_ok() && theirs.is_ok()
    };
    let first = open(&["chart-table.lan"], &["192.168.4.1"]);
    for name in ["skiff.local", "chart-table.lan", "192.168.4.1", "::1"] {
        assert!(shakes(&first, name).await, "{name}");
    }
    // A name that the authority was not made for, and an address of the internet (RFC 5737), are
    // left out; the others stay good.
    let second = open(
        &["chart-table.lan", "bank.example"],
        &["192.168.4.2", "203.0.113.7"],
    );
    assert_eq!(trusted(&first), trusted(&second));
    for (name, is_good) in [
        ("skiff.local", true),
        ("192.168.4.2", true),
        // Gone now, but it may come again.
        ("192.168.4.1", true),
        ("bank.example", false),
        ("203.0.113.7", false),
    ] {
        assert_eq!(shakes(&second, name).await, is_good, "{name}");
    }
}

/// A certificate for this computer and its key, in PEM.
fn own_certificate() -> (String, String) {
    let key = KeyPair::generate().unwrap();
    let names = vec!["localhost".to_owned(), "127.0.0.1".to_owned()];
    let certificate = CertificateParams::new(names)
        .unwrap()
        .self_signed(&key)
        .unwrap();
    (certificate.pem(), key.serialize_pem())
}

#[tokio::test(flavor = "multi_thread")]
async fn the_boats_own_files_are_followed_and_their_faults_named() {
    let files = tempfile::tempdir().unwrap();
    let [certificate, key] = ["boat.crt", "boat.key"].map(|name| files.path().join(name));
    let boat = Boat::new(&format!(
        "tls = \"files\"\ncertificate_file = {certificate:?}\nkey_file = {key:?}"
    ));
    let complains = |words: &[&str]| {
        let output = skimwatch(&["run", "--settings", boat.settings.to_str().unwrap()]);
        assert_eq!(output.status.code(), Some(69));
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        for words in words {
            assert!(said.contains(words), "{said}");
        }
    };
    let (first, first_key) = own_certificate();
    let (second, second_key) = own_certificate();
    complains(&["certificate_file", "boat.crt", "cannot be read"]);
    std::fs::write(&certificate, "nothing").unwrap();
    complains(&["certificate_file", "there is no certificate in it"]);
    std::fs::write(&certificate, &first).unwrap();
    complains(&["key_file", "boat.key", "cannot be read"]);
    std::fs::write(&key, &first).unwrap();
    complains(&["key_file", "there is no private key in it"]);
    std::fs::write(&key, &second_key).unwrap();
    complains(&["key_file", "Both files are PEM"]);
    std::fs::write(&key, &first_key).unwrap();

    let daemon = boat.start();
    let to = place(&daemon.base);
    let page = ask(to, &first, get(to, "/")).await;
    assert_eq!(page.status, 200);
    // There is nothing for phones to trust.
    let given = ask(to, &first, get(to, "/boat-certificate.crt")).await;
    assert_eq!(given.status, 404);
    // Half of a change is no change; the whole of it is, without a restart.
    std::fs::write(&certificate, &second).unwrap();
    assert!(shake(to, "localhost", Some(&first)).await.is_ok());
    std::fs::write(&key, &second_key).unwrap();
    let end = Instant::now() + PATIENCE;
    while shake(to, "localhost", Some(&second)).await.is_err() {
        assert!(Instant::now() < end, "the new certificate is not used");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert!(shake(to, "localhost", Some(&first)).await.is_err());
    told_to_end(daemon);
    // One that is renewed while nothing runs is in use from the next start on, and the doctor tells
    // whom it names and until when.
    let (third, third_key) = own_certificate();
    std::fs::write(&certificate, &third).unwrap();
    std::fs::write(&key, &third_key).unwrap();
    let daemon = boat.start();
    let to = place(&daemon.base);
    let in_use = shown(to, &third).await;
    assert_eq!(
        in_use,
        CertificateDer::from_pem_slice(third.as_bytes()).unwrap()
    );
    let (verdict, words) = boat.doctor_on_tls();
    assert_eq!(verdict, "good", "{words}");
    assert!(
        words.contains("certificate for 127.0.0.1 localhost, until 4096-01-01T"),
        "{words}"
    );
    told_to_end(daemon);
    std::fs::write(&key, &second_key).unwrap();
    let (verdict, words) = boat.doctor_on_tls();
    assert_eq!(verdict, "wrong");
    assert!(words.contains("Both files are PEM"), "{words}");
}

/// A room whose connections are encrypted, and what its phones trust.
async fn encrypted(settings: ServeSettings) -> (Running, SocketAddr, String, tempfile::TempDir) {
    let dir = tempfile::tempdir().unwrap();
    let kept = dir.path().join("tls.json");
    let names = || Names::new("", &[], []);
    let opened = Encryption::open(&Tls::Local, &kept, names, CancellationToken::new());
    let (encryption, _) = opened.unwrap().unwrap();
    let trusted = encryption.authority.clone().unwrap().pem.clone();
    let mut boat = advice();
    boat.sources.encryption = Some(encryption);
    let room = run_with(boat, settings).await;
    let to = place(&room.base);
    (room, to, trusted, dir)
}

#[tokio::test]
async fn only_pages_of_our_own_scheme_are_ours() {
    let (_room, to, trusted, _dir) = encrypted(ServeSettings::default()).await;
    for (origin, status) in [
        (format!("https://{to}"), StatusCode::UNPROCESSABLE_ENTITY),
        (format!("http://{to}"), StatusCode::FORBIDDEN),
        ("https://evil.example".to_owned(), StatusCode::FORBIDDEN),
    ] {
        let post = request(to, Method::POST, "/v1/crew/bait")
            .header(header::ORIGIN, &origin)
            .header(header::CONTENT_TYPE, "application/json")
            .body(Body::from("{}"))
            .unwrap();
        let answer = ask(to, &trusted, post).await;
        assert_eq!(answer.status, status, "{origin}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_cookie_that_is_set_over_tls_is_never_shown_in_plain() {
    let boat = Boat::new("tls = \"local\"\ntouch = \"crew\"");
    let daemon = boat.start();
    let to = place(&daemon.base);
    let authority = boat.authority();
    // The console asks in plain, on this computer.
    let invited = skimwatch(&[
        "crew",
        "invite",
        "--settings",
        boat.settings.to_str().unwrap(),
    ]);
    let said = String::from_utf8([invited.stdout, invited.stderr].concat()).unwrap();
    let (_, rest) = said.split_once("code ").expect(&said);
    let (code, _) = rest.split_once(',').unwrap();
    let join = request(to, Method::POST, "/v1/phone/join")
        .header(header::ORIGIN, format!("https://{to}"))
        .header(header::CONTENT_TYPE, "application/json")
        .body(Body::from(
            json!({"code": code, "name": "mate"}).to_string(),
        ))
        .unwrap();
    let joined = ask(to, &authority, join).await;
    assert_eq!(joined.status, 200);
    let cookie = joined.headers[header::SET_COOKIE].to_str().unwrap();
    for part in ["; Secure", "; HttpOnly", "; SameSite=Strict"] {
        assert!(cookie.contains(part), "{part}");
    }
    told_to_end(daemon);
}

#[tokio::test]
async fn a_handshake_that_stalls_holds_no_seat() {
    const SEATS: usize = 6;
    let settings = ServeSettings {
        connections: SEATS,
        streams: 2,
        ..ServeSettings::default()
    };
    let (room, to, trusted, _dir) = encrypted(settings).await;
    // Half of them say nothing; the others begin a handshake (RFC 8446, 5.1) and stop.
    let mut stalled = Vec::new();
    for number in 0..2 * SEATS {
        let mut socket = TcpStream::connect(to).await.unwrap();
        if number % 2 == 0 {
            socket.write_all(&[22, 3, 1, 2, 0]).await.unwrap();
        }
        stalled.push(socket);
    }
    for _ in 0..20 {
        let answer = ask(to, &trusted, get(to, "/healthz")).await;
        assert!(matches!(answer.status.as_u16(), 200 | 503));
    }
    // What is left of them is closed in time, whoever else comes.
    let began = Instant::now();
    for mut socket in stalled {
        let closed = tokio::time::timeout(PATIENCE, socket.read(&mut [0; 16])).await;
        assert!(!matches!(closed.expect("an end"), Ok(1..)));
    }
    assert!(began.elapsed() < PATIENCE);
    assert_ne!(
        room.metric("skimwatch_tls_handshakes_failed_total").await,
        "0"
    );
}

#[tokio::test]
async fn what_is_no_handshake_is_closed() {
    let (_room, to, trusted, _dir) = encrypted(ServeSettings::default()).await;
    let mut socket = TcpStream::connect(to).await.unwrap();
    socket.write_all(&[22; 512]).await.unwrap();
    let mut rest = Vec::new();
    let ended = tokio::time::timeout(PATIENCE, socket.read_to_end(&mut rest)).await;
    // An alert at most (RFC 8446, 6), no page.
    assert!(ended.is_ok() && rest.len() < 64, "{rest:?}");
    assert_eq!(ask(to, &trusted, get(to, "/")).await.status, 200);
}

/// Two addresses of documentation (RFC 5737): that of the boat computer and that of a phone.
const BOAT: [u8; 4] = [198, 51, 100, 1];
const PHONE: [u8; 4] = [198, 51, 100, 2];
/// Set where both are there: in a network of its own, in which the test runs itself once more.
const APART: &str = "SKIMWATCH_TEST_APART";
const MAKE_APART: &str = "ip link set lo up && ip address add 198.51.100.1/32 dev lo \
    && ip address add 198.51.100.2/32 dev lo && exec \"$@\"";

#[test]
fn from_another_computer_plain_http_is_led_to_https_on_the_same_port() {
    const NAME: &str = "tls::from_another_computer_plain_http_is_led_to_https_on_the_same_port";
    if std::env::var_os(APART).is_some() {
        return tokio::runtime::Runtime::new().unwrap().block_on(led());
    }
    let apart = |arguments: &[&str]| {
        let mut command = Command::new("unshare");
        command.args([
            "--user",
            "--map-root-user",
            "--net",
            "sh",
            "-c",
            MAKE_APART,
            "sh",
        ]);
        command.args(arguments).env(APART, "1").output()
    };
    if !apart(&["true"]).is_ok_and(|output| output.status.success()) {
        assert!(std::env::var_os("CI").is_none(), "no network of its own");
        println!("skipped: no network of its own (unshare and ip, and the right to use them)");
        return;
    }
    let own = std::env::current_exe().unwrap();
    let output = apart(&[own.to_str().unwrap(), "--exact", NAME, "--nocapture"]).unwrap();
    let said = String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned();
    assert!(
        output.status.success() && said.contains("1 passed"),
        "{said}"
    );
}

async fn led() {
    let boat = Boat::new("tls = \"local\"");
    let text = std::fs::read_to_string(&boat.settings).unwrap();
    let at_boat = text.replace("bind = \"127.0.0.1:", "bind = \"198.51.100.1:");
    // The feed's own address stays.
    let at_boat = at_boat.replace("bind = \"198.51.100.1:0\"", "bind = \"127.0.0.1:0\"");
    std::fs::write(&boat.settings, at_boat).unwrap();
    let daemon = boat.start();
    let to = place(&daemon.base);
    assert_eq!(to.ip(), std::net::IpAddr::from(BOAT));
    let phone = reqwest::Client::builder()
        .local_address(std::net::IpAddr::from(PHONE))
        .redirect(reqwest::redirect::Policy::none())
        .build()
        .unwrap();
    let page = format!("http://{to}/helm?a=b");
    let led = phone.get(&page).send().await.unwrap();
    assert_eq!(led.status(), StatusCode::TEMPORARY_REDIRECT);
    assert_eq!(
        led.headers()[header::LOCATION],
        format!("https://{to}/helm?a=b")
    );
    assert!(led.text().await.unwrap().is_empty());
    // What is posted in plain is taken by nobody; only the certificate comes in plain.
    let post = phone.post(format!("http://{to}/v1/crew/bite"));
    let refused = post.send().await.unwrap();
    assert_eq!(refused.status(), StatusCode::FORBIDDEN);
    let why: Value = refused.json().await.unwrap();
    assert_eq!(why["type"], "urn:skimwatch:problem:not-encrypted");
    let given = phone.get(format!("http://{to}/boat-certificate.crt"));
    let given = given.send().await.unwrap();
    assert_eq!(given.status(), StatusCode::OK);
    assert_eq!(given.text().await.unwrap(), boat.authority());
    // Where it is led to, on the same port, it is served.
    let stream = tokio::net::TcpSocket::new_v4().unwrap();
    stream.bind((PHONE, 0).into()).unwrap();
    let stream = stream.connect(to).await.unwrap();
    let trusted = boat.authority();
    let name = ServerName::try_from("localhost").unwrap();
    let stream = self::phone(Some(&trusted))
        .connect(name, stream)
        .await
        .unwrap();
    let (mut sender, connection) = http1::handshake(TokioIo::new(stream)).await.unwrap();
    tokio::spawn(connection);
    let answer = sender.send_request(get(to, "/helm?a=b")).await.unwrap();
    assert_eq!(answer.status(), StatusCode::OK);
    // From the computer itself plain HTTP goes on.
    let own = reqwest::get(format!("http://{to}/healthz")).await.unwrap();
    assert_eq!(own.status(), StatusCode::OK);
    told_to_end(daemon);
}
