"""Phones on loopback: each holds the state stream from an address of its own and notes what comes.

They run in a process of their own, so that reading does not delay the sender of sentences.
"""

import multiprocessing
import re
import selectors
import socket
import time

FIELDS = {
    "at_ms": re.compile(rb'"at_unix_ms":(\d+)'),
    "lag_s": re.compile(rb'"lag_s":([0-9.eE+-]+)'),
    "network": re.compile(rb'"name":"network".*?"kinds":\{([^}]*)\}'),
    "silenced_until": re.compile(rb'"silenced_until":"([^"]+)"'),
}
REQUEST = b"GET /v1/state/stream HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


def address(number):
    """A loopback address for each phone: seats are shared fairly among addresses."""
    return f"127.0.{1 + number // 250}.{1 + number % 250}"


def states(buffer):
    """The `data` of each whole `state` event, and the unfinished rest."""
    found = []
    while True:
        end = buffer.find(b"\n\n")
        if end < 0:
            return found, buffer
        event, buffer = buffer[:end], buffer[end + 2 :]
        at = event.find(b"event: state\n")
        if at >= 0:
            found.append(event[at:])


def fields(event):
    """What is looked for in a state: the first of each, and how many sentences it counts."""
    seen = {}
    for name, pattern in FIELDS.items():
        match = pattern.search(event)
        seen[name] = match.group(1).decode() if match else None
    seen["heard"] = sum(int(count) for count in re.findall(r":(\d+)", seen.pop("network") or ""))
    return seen


def _run(count, port, pipe):
    selector = selectors.DefaultSelector()
    buffers, closed = {}, 0
    for number in range(count):
        link = socket.create_connection(
            ("127.0.0.1", port), timeout=10, source_address=(address(number), 0)
        )
        link.sendall(REQUEST)
        link.setblocking(False)
        buffers[number] = b""
        selector.register(link, selectors.EVENT_READ, number)
    pipe.send("open")
    heard = []
    while not pipe.poll():
        for key, _ in selector.select(0.05):
            try:
                more = key.fileobj.recv(1 << 18)
            except BlockingIOError:
                continue
            except OSError:
                more = b""
            now = time.monotonic()
            if not more:
                selector.unregister(key.fileobj)
                closed += 1
                continue
            events, buffers[key.data] = states(buffers[key.data] + more)
            heard.extend((key.data, now, event) for event in events)
    pipe.recv()
    pipe.send(([(number, at, fields(event)) for number, at, event in heard], closed))


class Phones:
    """So many phones; `close` gives what they heard as (phone, monotonic time, fields)."""

    def __init__(self, count, port):
        self.pipe, theirs = multiprocessing.Pipe()
        self.process = multiprocessing.Process(target=_run, args=(count, port, theirs))
        self.process.start()
        if not self.pipe.poll(60):
            raise RuntimeError("the phones do not connect")
        self.pipe.recv()

    def close(self):
        self.pipe.send("end")
        heard, closed = self.pipe.recv()
        self.process.join()
        return heard, closed
