//! `skimwatch forget`: what was learnt of the kite of the settings is forgotten, by the daemon
//! when one runs with these settings, else in its file.

use std::io::{self, Read as _, Write as _};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, TcpStream};
use std::path::Path;
use std::time::{Duration, Instant};

use super::{Failure, print_line};
use crate::drive::{read_memory, write_memory};
use crate::rig::RigParameters;
use crate::settings;

/// Longest wait for an answer of the daemon.
const PATIENCE: Duration = Duration::from_secs(5);
/// Longest wait for the daemon to write its file anew: a busy one may be behind.
const WRITTEN_WITHIN: Duration = Duration::from_secs(20);
/// More than any answer that is read here.
const ANSWER_MAX_BYTES: u64 = 64 * 1024;

pub(super) fn forget(path: &Path) -> Result<(), Failure> {
    let settings = settings::load(path).map_err(Failure::settings)?;
    let (rig, file) = (&settings.rig.parameters, settings.learnt_file.as_deref());
    let address = reachable(settings.serve.bind);
    if tell_daemon(address)? {
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

/// Where a daemon that listens there can be reached from here.
fn reachable(bind: SocketAddr) -> SocketAddr {
    let ip = match bind.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => Ipv4Addr::LOCALHOST.into(),
        IpAddr::V6(ip) if ip.is_unspecified() => Ipv6Addr::LOCALHOST.into(),
        ip => ip,
    };
    SocketAddr::new(ip, bind.port())
}

/// Whether a daemon was there to be told. A demo or a replay there knows nothing of this boat.
fn tell_daemon(address: SocketAddr) -> Result<bool, Failure> {
    let Ok(stream) = TcpStream::connect_timeout(&address, PATIENCE) else {
        return Ok(false);
    };
    let failed = |why: io::Error| not_taken(address, &why.to_string());
    let health = ask(stream, address, "GET", "/healthz").map_err(failed)?;
    let is_daemon = health
        .split_once("\r\n\r\n")
        .and_then(|(_, body)| serde_json::from_str::<serde_json::Value>(body).ok())
        .is_some_and(|health| health["mode"] == "live");
    if !is_daemon {
        return Ok(false);
    }
    let answer = TcpStream::connect_timeout(&address, PATIENCE)
        .and_then(|stream| ask(stream, address, "POST", "/v1/crew/forget"))
        .map_err(failed)?;
    if status(&answer) == Some(202) {
        return Ok(true);
    }
    Err(not_taken(
        address,
        answer.lines().next().unwrap_or_default(),
    ))
}

fn not_taken(address: SocketAddr, why: &str) -> Failure {
    Failure::unavailable(format!(
        "what runs at http://{address}/ did not take it ({why}), and would keep what it knows: stop \
         it, then try again"
    ))
}

/// One request and the whole answer.
fn ask(mut stream: TcpStream, address: SocketAddr, method: &str, path: &str) -> io::Result<String> {
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    // In this version of HTTP the answer is not cut in pieces and ends with the connection.
    let request =
        format!("{method} {path} HTTP/1.0\r\nHost: {address}\r\nContent-Length: 0\r\n\r\n");
    stream.write_all(request.as_bytes())?;
    let mut answer = String::new();
    stream.take(ANSWER_MAX_BYTES).read_to_string(&mut answer)?;
    Ok(answer)
}

fn status(answer: &str) -> Option<u16> {
    answer.split(' ').nth(1)?.parse().ok()
}

/// The daemon writes its file when it has forgotten; with other settings it would not be this one.
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
        assert_eq!(status("HTTP/1.0 202 Accepted\r\n"), Some(202));
        assert_eq!(status("SSH-2.0-x"), None);
    }
}
