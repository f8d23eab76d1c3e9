"""One address misbehaves, another wants the page: each way for some seconds."""

import socket
import threading
import time

from daemon import Daemon

BAD, GOOD = "127.0.0.66", "127.0.0.77"


def connect(daemon, source):
    link = socket.create_connection(
        ("127.0.0.1", daemon.http), timeout=5, source_address=(source, 0)
    )
    return link


def idle(daemon):
    return connect(daemon, BAD)


def slow_head(daemon):
    link = connect(daemon, BAD)
    link.sendall(b"GET /v1/state HTTP/1.1\r\nHost: 127.0.0.1\r\nX-")
    return link


def slow_body(daemon):
    link = connect(daemon, BAD)
    link.sendall(
        b"POST /v1/crew/bait HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
        b"Content-Length: 100\r\n\r\n{"
    )
    return link


def stream(daemon):
    link = connect(daemon, BAD)
    link.sendall(b"GET /v1/state/stream HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    return link


WAYS = {
    "idle sockets": (idle, 300),
    "slow heads": (slow_head, 300),
    "slow bodies": (slow_body, 120),
    "streams, never read": (stream, 150),
}


def newcomer(daemon):
    """Seconds until a phone that comes new has page, state and the first event of its stream."""
    begun = time.monotonic()
    for path in ("/", "/v1/state"):
        status, _ = daemon.get(path, timeout=10, source=GOOD)
        if status != 200:
            return 99.0
    link = connect(daemon, GOOD)
    link.settimeout(10)
    link.sendall(b"GET /v1/state/stream HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    heard = b""
    while b"event: state" not in heard:
        more = link.recv(65536)
        if not more:
            return 99.0
        heard += more
    link.close()
    return time.monotonic() - begun


def attack(binary, directory, seconds=8):
    daemon = Daemon(binary, directory)
    daemon.start()
    figures, ok = {}, True
    for name, (way, count) in WAYS.items():
        held, done = [], threading.Event()

        def misbehave():
            while not done.is_set():
                try:
                    held.append(way(daemon))
                except OSError:
                    done.wait(0.02)
                if len(held) > count:
                    held.pop(0).close()
                    done.wait(0.005)

        thread = threading.Thread(target=misbehave, daemon=True)
        thread.start()
        end = time.monotonic() + 10
        while len(held) < count and time.monotonic() < end:
            time.sleep(0.02)
        waits = []
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                waits.append(newcomer(daemon))
            except OSError:
                waits.append(99.0)
            time.sleep(0.05)
        done.set()
        thread.join(10)
        for link in held:
            link.close()
        waits.sort()
        p99 = waits[int(0.99 * (len(waits) - 1))]
        figures[f"{name}: newcomer served, median / 99 % / most, s"] = [
            round(waits[len(waits) // 2], 3),
            round(p99, 3),
            round(waits[-1], 3),
        ]
        ok = ok and p99 < 1.0
    daemon.stop()
    figures["ok"] = ok
    return figures
