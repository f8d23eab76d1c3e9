//! Asking the daemon that runs with these settings, as the console: with the key that it lays beside
//! its file of phones.

use std::error::Error;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::Path;
use std::time::Duration;

use axum::body::{Body, Bytes, to_bytes};
use axum::http::{Method, Request, StatusCode, header};
use hyper::client::conn::http1;
use hyper_util::rt::TokioIo;
use serde_json::Value;
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::Failure;
use crate::access::ConsoleKey;
use crate::settings::Settings;

/// Longest wait for a connection to the daemon, and for its answer.
const PATIENCE: Duration = Duration::from_secs(5);
/// More than any answer that is read here.
const ANSWER_MAX_BYTES: usize = 1024 * 1024;

/// Why there is no answer.
pub(super) type NoAnswer = Box<dyn Error + Send + Sync>;

/// Where a daemon with some settings can be asked from this computer.
#[derive(Debug, Clone)]
pub(super) struct Daemon {
    pub(super) address: SocketAddr,
    key: Option<String>,
}

impl Daemon {
    /// By settings that were read from `path`.
    pub(super) fn new(settings: &Settings, path: &Path) -> Result<Self, Failure> {
        let key = ConsoleKey::read(&settings.phones_file(path)).map_err(Failure::unavailable)?;
        Ok(Self {
            key,
            ..Self::at(reachable(settings.serve.bind))
        })
    }

    /// At an address, without a key.
    pub(super) fn at(address: SocketAddr) -> Self {
        Self { address, key: None }
    }

    /// A connection; `None` when nothing listens there.
    pub(super) async fn connect(&self) -> Option<TcpStream> {
        let connecting = TcpStream::connect(self.address);
        timeout(PATIENCE, connecting).await.ok()?.ok()
    }

    /// One request over a connection, and the status and body of its answer.
    pub(super) async fn ask(
        &self,
        stream: TcpStream,
        method: Method,
        path: &str,
        body: Option<&Value>,
    ) -> Result<(StatusCode, Bytes), NoAnswer> {
        let mut request = Request::builder()
            .method(method)
            .uri(path)
            .header(header::HOST, self.address.to_string());
        if let Some(key) = &self.key {
            request = request.header(header::AUTHORIZATION, format!("Bearer {key}"));
        }
        if body.is_some() {
            request = request.header(header::CONTENT_TYPE, "application/json");
        }
        let body = body.map_or_else(Body::empty, |body| Body::from(body.to_string()));
        let request = request.body(body)?;
        let exchange = async {
            let (mut sender, connection) = http1::handshake(TokioIo::new(stream)).await?;
            tokio::spawn(connection);
            let (head, body) = sender.send_request(request).await?.into_parts();
            let body = to_bytes(Body::new(body), ANSWER_MAX_BYTES).await?;
            Ok((head.status, body))
        };
        match timeout(PATIENCE, exchange).await {
            Ok(answer) => answer,
            Err(_) => Err(format!("no answer within {} s", PATIENCE.as_secs()).into()),
        }
    }

    /// The JSON that a daemon answers, which must be there and content.
    pub(super) async fn demand(
        &self,
        method: Method,
        path: &str,
        body: Option<&Value>,
    ) -> Result<Value, Failure> {
        let address = self.address;
        let Some(stream) = self.connect().await else {
            return Err(Failure::unavailable(format!(
                "no daemon runs at http://{address}/: start it with these settings"
            )));
        };
        let not_taken =
            |why: String| Failure::unavailable(format!("http://{address}{path}: {why}"));
        let (status, answer) = self
            .ask(stream, method, path, body)
            .await
            .map_err(|why| not_taken(why.to_string()))?;
        let answer: Value = serde_json::from_slice(&answer)
            .map_err(|_| not_taken("it answers something else; is it skimwatch?".to_owned()))?;
        if status.is_success() {
            return Ok(answer);
        }
        let said = |member: &str| answer[member].as_str().unwrap_or("?").to_owned();
        Err(not_taken(format!(
            "{status}, {}; {}",
            said("detail"),
            said("cure")
        )))
    }
}

/// Address at which a daemon bound to `bind` can be reached from this computer.
pub(super) fn reachable(bind: SocketAddr) -> SocketAddr {
    let ip = match bind.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => Ipv4Addr::LOCALHOST.into(),
        IpAddr::V6(ip) if ip.is_unspecified() => Ipv6Addr::LOCALHOST.into(),
        ip => ip,
    };
    SocketAddr::new(ip, bind.port())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_daemon_that_listens_everywhere_is_reached_here() {
        for (bind, expected) in [
            ("0.0.0.0:8477", "127.0.0.1:8477"),
            ("[::]:80", "[::1]:80"),
            ("192.0.2.7:8477", "192.0.2.7:8477"),
        ] {
            assert_eq!(
                reachable(bind.parse().unwrap()),
                expected.parse::<SocketAddr>().unwrap()
            );
        }
    }
}
