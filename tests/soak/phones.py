"""Phones of six kinds on loopback, each from an address of its own, in a process of their own.

- `healthy`: holds one stream from before the first picture to after the last: two of three the state
  stream, as a page does, the others the advisories stream.
- `coming`: holds one for 2 to 20 s, goes, and is back within 3 s; one that follows the advisories names
  the last event it saw (`Last-Event-ID`).
- `slow`: takes no more than 20 kB a second.
- `stalled`: asks for a stream and never reads; after 30 s it asks anew.
"""

import heapq
import multiprocessing
import random
import re
import select
import socket
import time

STATE, ADVISORIES = "/v1/state/stream", "/v1/advisories/stream"
# The moment of a picture is the second member of a state.
MOMENT = re.compile(rb'"at_unix_ms":(\d+)')
COUNTS = {"healthy": 150, "coming": 20, "slow": 10, "stalled": 20}
SLOW_BYTES_S = 20_000
# A state that is this much older than the newest that anybody was shown is no picture anew.
RECENT = 400


def address(number):
    """A loopback address for each phone: seats are shared fairly among addresses."""
    return f"127.0.{1 + number // 250}.{1 + number % 250}"


class Pictures:
    """Pictures in the order in which they were first seen by any phone. A clock that is set back by
    an hour brings old moments again: so only the last ones are compared."""

    def __init__(self):
        self.moments, self.seen_at = [], []
        self.place = {}

    def number(self, moment, now):
        place = self.place.get(moment)
        if place is None or place < len(self.moments) - RECENT:
            place = len(self.moments)
            self.place[moment] = place
            self.moments.append(moment)
            self.seen_at.append(now)
        return place


class Phone:
    def __init__(self, number, kind, path):
        self.number, self.kind, self.path = number, kind, path
        self.link, self.rest = None, b""
        self.bytes = self.events = self.streams = self.ended = self.refused = 0
        self.missed = self.gaps = self.backward = 0
        self.last_picture, self.last_id, self.run = None, None, None
        self.first_id = None
        self.waits, self.ages = [], []
        self.leave_at = None

    def ask(self, port):
        link = socket.socket()
        if self.kind in ("stalled", "slow"):
            # What has come over a poor link is read at once: only little may wait on this side.
            link.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 16_384)
        link.bind((address(self.number), 0))
        link.settimeout(20)
        link.connect(("127.0.0.1", port))
        again = f"Last-Event-ID: {self.run}-{self.last_id}\r\n" if self.run else ""
        link.sendall(f"GET {self.path} HTTP/1.1\r\nHost: 127.0.0.1\r\n{again}\r\n".encode())
        link.setblocking(False)
        self.link, self.rest = link, b""
        self.last_picture = None
        self.streams += 1

    def hang_up(self):
        self.link.close()
        self.link = None

    def heard(self, more, now, pictures):
        self.bytes += len(more)
        parts = (self.rest + more).split(b"\n\n")
        self.rest = parts.pop()
        for event in parts:
            if self.path == STATE:
                self.state(event, now, pictures)
            else:
                self.advisory(event)

    def state(self, event, now, pictures):
        if b"event: state\n" not in event:
            return
        self.events += 1
        number = pictures.number(int(MOMENT.search(event).group(1)), now)
        self.ages.append(now - pictures.seen_at[number])
        last, self.last_picture = self.last_picture, number
        if last is None:
            return
        if number < last:
            self.backward += 1
        elif number > last:
            # Since when a later picture than its last was there to be seen.
            self.waits.append(now - pictures.seen_at[last + 1])

    def advisory(self, event):
        at = event.find(b"\nid: ")
        if at < 0:
            self.gaps += b"event: gap\n" in event
            return
        run, _, number = event[at + 5 :].split(b"\n", 1)[0].decode().rpartition("-")
        number = int(number)
        if b"event: living\n" in event:
            self.run, self.last_id = run, number
            self.first_id = number if self.first_id is None else self.first_id
            return
        self.events += 1
        if number != self.last_id + 1:
            self.missed += 1
        self.run, self.last_id = run, number

    def report(self):
        def parts(seconds):
            seconds = sorted(seconds)
            return [round(seconds[int(part * (len(seconds) - 1))], 3) for part in (0.5, 0.99, 1)]

        return {
            **{name: getattr(self, name) for name in (
                "kind", "path", "bytes", "events", "streams", "ended", "refused", "missed", "gaps",
                "backward", "first_id", "last_id", "last_picture")},
            "wait_s": parts(self.waits) if self.waits else None,
            "age_s": parts(self.ages) if self.ages else None,
        }


def _run(port, counts, seed, pipe):
    dice, pictures, poll = random.Random(seed), Pictures(), select.epoll()
    phones, by_file, alarms = [], {}, []
    for kind, count in counts.items():
        for of_kind in range(count):
            path = ADVISORIES if of_kind % 3 == 2 else STATE
            phones.append(Phone(len(phones), kind, path))

    def ask(phone, now):
        try:
            phone.ask(port)
        except OSError:
            phone.refused += 1
            phone.link = None
            heapq.heappush(alarms, (now + 0.5, phone.number, "ask"))
            return
        if phone.kind in ("healthy", "coming"):
            by_file[phone.link.fileno()] = phone
            poll.register(phone.link.fileno(), select.EPOLLIN)
        if phone.kind == "coming":
            heapq.heappush(alarms, (now + dice.uniform(2, 20), phone.number, "go"))
        elif phone.kind == "stalled":
            heapq.heappush(alarms, (now + 30, phone.number, "go"))
        elif phone.kind == "slow":
            heapq.heappush(alarms, (now + 0.25, phone.number, "sip"))

    def leave(phone):
        if by_file.pop(phone.link.fileno(), None):
            poll.unregister(phone.link.fileno())
        phone.hang_up()

    def take(phone, most, now):
        """Reads; asks anew if the other end has ended it."""
        try:
            more = phone.link.recv(most)
        except BlockingIOError:
            return
        except OSError:
            more = b""
        if more:
            phone.heard(more, now, pictures)
            return
        phone.ended += 1
        leave(phone)
        heapq.heappush(alarms, (now + 0.2, phone.number, "ask"))

    for phone in phones:
        ask(phone, time.monotonic())
    pipe.send("open")
    while True:
        now = time.monotonic()
        while alarms and alarms[0][0] <= now:
            _, number, what = heapq.heappop(alarms)
            phone = phones[number]
            if what == "ask":
                ask(phone, now)
            elif what == "go" and phone.link:
                leave(phone)
                heapq.heappush(alarms, (now + dice.uniform(0.1, 3), number, "ask"))
            elif what == "sip" and phone.link:
                take(phone, SLOW_BYTES_S // 4, now)
                if phone.link:
                    heapq.heappush(alarms, (now + 0.25, number, "sip"))
        for file, _ in poll.poll(0.02):
            phone = by_file.get(file)
            if phone:
                take(phone, 1 << 18, time.monotonic())
        if pipe.poll():
            asked = pipe.recv()
            if asked == "how far":
                pipe.send(len(pictures.moments))
                continue
            break
    pipe.send({
        "pictures": len(pictures.moments),
        "last": pictures.moments[-1] if pictures.moments else None,
        "phones": [phone.report() for phone in phones],
    })
    for phone in phones:
        if phone.link:
            phone.hang_up()


class Phones:
    """All of them; `close` gives what each heard."""

    def __init__(self, port, counts=None, seed=5):
        self.pipe, theirs = multiprocessing.Pipe()
        self.process = multiprocessing.Process(
            target=_run, args=(port, counts or COUNTS, seed, theirs), daemon=True
        )
        self.process.start()
        if not self.pipe.poll(120):
            raise RuntimeError("the phones do not connect")
        self.pipe.recv()

    def pictures(self):
        self.pipe.send("how far")
        return self.pipe.recv()

    def close(self):
        self.pipe.send("end")
        heard = self.pipe.recv()
        self.process.join()
        return heard
