//! `skimwatch forget`: removes what was learnt about the kite of the settings, through the daemon if
//! one runs with these settings, else in the file itself.

use std::error::Error;
use std::io;
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
    let health = match ask(stream, address, Method::GET, "/healthz").await {
        Ok((_, health)) => health,
        Err(why) if is_not_http(why.as_ref()) => return Ok(false),
        Err(why) => return Err(failed(why)),
    };
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

/// Whether something answered that does not speak HTTP. A daemon that is silent, or that closes the
/// connection, does.
fn is_not_http(why: &(dyn Error + 'static)) -> bool {
    why.downcast_ref::<hyper::Error>().is_some_and(|why| {
        let is_io = why.source().is_some_and(|source| source.is::<io::Error>());
        !is_io && !why.is_incomplete_message()
    })
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
    use std::io::{Read as _, Write as _};

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

    /// Answers one connection after the other with these words.
    fn answering(words: &[&'static str]) -> SocketAddr {
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let words = words.to_vec();
        std::thread::spawn(move || {
            for words in words {
                let (mut stream, _) = listener.accept().unwrap();
                let _ = stream.read(&mut [0; 1024]).unwrap();
                stream.write_all(words.as_bytes()).unwrap();
            }
        });
        address
    }

    const LIVE: &str = "HTTP/1.1 200 OK\r\nContent-Length: 15\r\n\r\n{\"mode\":\"live\"}";

    #[tokio::test]
    async fn only_a_daemon_is_told() {
        let demo: &'static str = LIVE.replace("live", "demo").leak();
        for other in ["SSH-2.0-x\r\n", demo] {
            let told = tell_daemon(answering(&[other])).await;
            assert!(!told.unwrap(), "{other}");
        }
        let taken = "HTTP/1.1 202 Accepted\r\nContent-Length: 0\r\n\r\n";
        assert!(tell_daemon(answering(&[LIVE, taken])).await.unwrap());
    }

    #[tokio::test]
    async fn a_daemon_that_does_not_take_it_is_a_failure() {
        let busy = "HTTP/1.1 503 Service Unavailable\r\nContent-Length: 0\r\n\r\n";
        for (words, why) in [(&[LIVE, busy][..], "503"), (&[""], "did not take it")] {
            let failure = tell_daemon(answering(words)).await.unwrap_err();
            assert!(failure.to_string().contains(why), "{failure}");
        }
    }
}
