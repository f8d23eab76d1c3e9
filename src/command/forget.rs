//! `skimwatch forget`: removes what was learnt about the kite of the settings, through the daemon if
//! one runs with these settings, else in the file itself.

use std::error::Error;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::Path;
use std::time::{Duration, Instant};

use axum::body::{Body, Bytes, to_bytes};
use axum::http::{Method, Request, StatusCode, header};
use hyper::client::conn::http1;
use hyper_util::rt::TokioIo;
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::{Failure, block_on, print_line};
use crate::drive::{read_memory, write_memory};
use crate::rig::RigParameters;
use crate::settings;

/// Longest wait for a connection to the daemon, and for its answer.
const PATIENCE: Duration = Duration::from_secs(5);
/// Longest wait for the daemon to rewrite its file: a busy one may be behind.
const WRITTEN_WITHIN: Duration = Duration::from_secs(20);
/// More than any answer that is read here.
const ANSWER_MAX_BYTES: usize = 64 * 1024;

pub(super) fn forget(path: &Path) -> Result<(), Failure> {
    let settings = settings::load(path).map_err(Failure::settings)?;
    let (rig, file) = (&settings.rig.parameters, settings.learnt_file.as_deref());
    let address = reachable(settings.serve.bind);
    if block_on(tell_daemon(address))?? {
        if let Some(file) = file {
            wait_until_gone(file, rig, address)?;
        }
        return print_line(&format!(
            "forgotten by the daemon at http://{address}/, which goes on"
        ));
    }
    let Some(file) = file else {
        return print_line("forecast.learnt_file is not set: nothing learnt is kept");
    };
    let name = file.display();
    let memory = read_memory(file).map_err(|why| {
        Failure::data(format!(
            "{why}; move it away, or start the daemon, which keeps it aside"
        ))
    })?;
    match memory {
        Some(mut memory) if memory.holds(rig) => {
            memory.forget(rig);
            write_memory(file, &memory).map_err(Failure::unavailable)?;
            print_line(&format!(
                "{name}: forgotten; what was learnt of other kites ({}) stays. No daemon runs at \
                 http://{address}/",
                memory.kites()
            ))
        }
        _ => print_line(&format!("{name}: nothing was learnt yet of this kite")),
    }
}

/// Address at which a daemon bound to `bind` can be reached from this computer.
fn reachable(bind: SocketAddr) -> SocketAddr {
    let ip = match bind.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => Ipv4Addr::LOCALHOST.into(),
        IpAddr::V6(ip) if ip.is_unspecified() => Ipv6Addr::LOCALHOST.into(),
        ip => ip,
    };
    SocketAddr::new(ip, bind.port())
}

/// Tells a running daemon to forget; false when there is none. A demo or a replay at that address
/// knows nothing of this boat.
async fn tell_daemon(address: SocketAddr) -> Result<bool, Failure> {
    let failed = |why: Box<dyn Error + Send + Sync>| not_taken(address, &why.to_string());
    let Ok(Ok(stream)) = timeout(PATIENCE, TcpStream::connect(address)).await else {
        return Ok(false);
    };
    let health = ask(stream, address, Method::GET, "/healthz").await;
    let (_, health) = health.map_err(failed)?;
    let is_daemon = serde_json::from_slice::<serde_json::Value>(&health)
        .is_ok_and(|health| health["mode"] == "live");
    if !is_daemon {
        return Ok(false);
    }
    let stream = TcpStream::connect(address).await;
    let stream = stream.map_err(|why| failed(why.into()))?;
    let answer = ask(stream, address, Method::POST, "/v1/crew/forget").await;
    match answer.map_err(failed)? {
        (StatusCode::ACCEPTED, _) => Ok(true),
        (status, _) => Err(not_taken(address, &status.to_string())),
    }
}

fn not_taken(address: SocketAddr, why: &str) -> Failure {
    Failure::unavailable(format!(
        "what runs at http://{address}/ did not take it ({why}), and would keep what it knows: stop \
         it, then try again"
    ))
}

/// One request, and the status and body of its answer.
async fn ask(
    stream: TcpStream,
    address: SocketAddr,
    method: Method,
    path: &str,
) -> Result<(StatusCode, Bytes), Box<dyn Error + Send + Sync>> {
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header(header::HOST, address.to_string())
        .body(Body::empty())?;
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

/// Waits until the daemon has rewritten the file. A daemon with other settings never does.
fn wait_until_gone(file: &Path, rig: &RigParameters, address: SocketAddr) -> Result<(), Failure> {
    let name = file.display();
    let since = Instant::now();
    loop {
        match read_memory(file) {
            Ok(Some(memory)) if memory.holds(rig) => {}
            Ok(_) => return Ok(()),
            Err(why) => {
                return print_line(&format!("whether {name} is written is not seen: {why}"));
            }
        }
        if since.elapsed() > WRITTEN_WITHIN {
            return Err(Failure::unavailable(format!(
                "the daemon at http://{address}/ took it, but {name} still holds this kite: does it \
                 run with these settings? Start it again with them, then try again"
            )));
        }
        std::thread::sleep(Duration::from_millis(100));
    }
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
