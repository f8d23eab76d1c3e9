"""The whole daemon under load: sentence in to picture out, processor time, memory, start."""

import datetime
import math
import os
import random
import socket
import threading
import time
from pathlib import Path

from daemon import Daemon, checked, free_port
from phones import Phones

TICKS_A_SECOND = os.sysconf("SC_CLK_TCK")


def seated(daemon, phones):
    """Lets so many phones hold a stream."""
    text = daemon.settings.read_text()
    seats = f"streams = {max(48, phones + 10)}\nconnections = {max(96, phones + 40)}\n"
    daemon.settings.write_text(text.replace("[serve]\n", "[serve]\n" + seats, 1))


def by_second(day):
    """Sentences of a recording by second: crew's and instruments'."""
    seconds = {}
    first = None
    for line in Path(day).read_text().splitlines():
        tag, _, sentence = line[1:].partition("\\")
        stamp = next(f[2:] for f in tag.split("*")[0].split(",") if f.startswith("c:"))
        first = first if first is not None else int(stamp)
        crew, instruments = seconds.setdefault((int(stamp) - first) // 1000, ([], []))
        (crew if sentence.startswith("$PSKWT") else instruments).append(sentence + "\r\n")
    return [seconds.get(second, ([], [])) for second in range(max(seconds) + 1)]


class Sender:
    """Plays a day by UDP at so many sentences a second: each second's own, repeated or thinned."""

    def __init__(self, day, ports, rate, crew=True):
        self.seconds, self.ports, self.rate, self.crew = by_second(day), ports, rate, crew
        self.sent = 0
        self.done = threading.Event()
        self.thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self):
        self.out = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.thread.start()
        return self

    def say(self, sentence, port=None):
        self.out.sendto(sentence.encode(), ("127.0.0.1", port or self.ports[0]))
        self.sent += 1

    def _run(self):
        begun = time.monotonic()
        second = -1
        for count in range(10**9):
            wait = begun + count / self.rate - time.monotonic()
            if wait > 0 and self.done.wait(wait) or self.done.is_set():
                return
            now = int(count / self.rate)
            if now != second:
                second = now
                crew, instruments = self.seconds[second % len(self.seconds)]
                for sentence in crew if self.crew else ():
                    self.say(sentence)
            if instruments:
                turn = count - math.ceil(second * self.rate)
                self.say(instruments[turn % len(instruments)], self.ports[count % len(self.ports)])

    def __exit__(self, *_):
        self.done.set()
        self.thread.join()
        self.out.close()


def processor_s(pid):
    """Processor time of a process so far, user and system."""
    after_name = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(after_name[11]) + int(after_name[12])) / TICKS_A_SECOND


def share(values, part):
    """A quantile of sorted values."""
    return values[min(len(values) - 1, int(part * len(values)))] if values else math.nan


def milliseconds(values):
    """p50, p99 and most, in milliseconds."""
    values = sorted(values)
    return [round(1000 * v, 2) for v in (share(values, 0.5), share(values, 0.99), share(values, 1))]


def unix_ms(text):
    return 1000 * datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


def accepted(daemon):
    feeds = daemon.state()["feeds"]
    return sum(sum(feed["kinds"].values()) for feed in feeds if feed["name"].startswith("network"))


def settled(read, wanted, within=20):
    """What is read once it is what is wanted, or at the end."""
    end = time.monotonic() + within
    while (value := read()) != wanted and time.monotonic() < end:
        time.sleep(0.2)
    return value


def latency(binary, directory, day, rate, phones, seconds):
    """Sentence in to picture out. The sentence is the crew's "no sound for N minutes": each asks for
    a picture at once, and the end of the silence tells in every later state which one it was and
    when the daemon stamped it."""
    daemon = Daemon(binary, directory)
    seated(daemon, phones)
    daemon.start()
    clock = time.time() - time.monotonic()
    asked = []
    with Sender(day, [daemon.udp], rate) as sender:
        crowd = Phones(phones, daemon.http)
        time.sleep(3)
        begun = time.monotonic()
        spent = processor_s(daemon.process.pid)
        dice = random.Random(1)
        while time.monotonic() - begun < seconds:
            minutes = 10 + len(asked) % 1400
            asked.append((minutes, time.monotonic()))
            sender.say(checked(f"PSKWT,{len(asked)},SILENCE,{minutes}"))
            # Apart from the daemon's whole seconds by chance.
            time.sleep(dice.uniform(0.8, 1.3))
        spent = (processor_s(daemon.process.pid) - spent) / (time.monotonic() - begun)
    heard_by_engine = settled(lambda: accepted(daemon), sender.sent)
    # One more whole picture, so that every phone is shown the last sentence.
    time.sleep(2.5)
    resident = daemon.memory_mib()
    heard, closed = crowd.close()
    daemon.stop()

    first_shown, last_count, pictures = {}, {}, {}
    lag, stamped = {}, {}
    for phone, at, state in heard:
        pictures.setdefault(phone, set()).add(state["at_ms"])
        last_count[phone] = state["heard"]
        picture = int(state["at_ms"])
        lag[picture] = min(lag.get(picture, math.inf), float(state["lag_s"]))
        if state["silenced_until"]:
            until = unix_ms(state["silenced_until"])
            for minutes, sent in reversed(asked):
                stamp = until - 60_000 * minutes
                if abs(stamp / 1000 - clock - sent) < 5:
                    stamped[minutes, sent] = stamp
                    first_shown.setdefault((minutes, sent, phone), (at, picture))
                    break
    whole, beyond = [], []
    for (minutes, sent, _), (at, picture) in first_shown.items():
        took = at - sent
        waited = max(0.0, (picture - stamped[minutes, sent]) / 1000)
        whole.append(took)
        beyond.append(max(0.0, took - waited - lag[picture]))
    every = set().union(*pictures.values()) if pictures else set()
    missed = [len(every - seen) for seen in pictures.values()]
    return {
        "rate": rate,
        "phones": phones,
        "seconds": seconds,
        "probes": len(asked),
        "probes shown at each phone": len(first_shown) == len(asked) * phones,
        "ms": milliseconds(whole),
        "beyond_ms": milliseconds(beyond),
        "sent": sender.sent,
        "engine": heard_by_engine,
        "phones_least": min(last_count.values(), default=0) if len(last_count) == phones else 0,
        "pictures": len(every),
        "missed_most": max(missed, default=0),
        "closed": closed,
        "cores": round(spent, 3),
        "resident_mib": round(resident, 1),
    }


def processor(binary, directory, day, seconds, rate=30, rig=True, feeds=1):
    """Share of a core at so many sentences a second with one phone, and the memory after. Without
    a rig out the crew has said nothing, so there is nothing to forecast."""
    more = [free_port(socket.SOCK_DGRAM) for _ in range(feeds - 1)]
    extra = "".join(
        f'[[feed]]\nname = "network-{i}"\nkind = "udp"\nbind = "127.0.0.1:{port}"\n'
        for i, port in enumerate(more)
    )
    daemon = Daemon(binary, directory, extra)
    daemon.start()
    begun = time.monotonic()
    first = None
    with Sender(day, [daemon.udp, *more], rate, crew=rig):
        crowd = Phones(1, daemon.http)
        while rig and first is None and time.monotonic() - begun < 30:
            if daemon.get("/v1/forecast")[1].get("forecast"):
                first = time.monotonic() - begun
            time.sleep(0.02)
        time.sleep(5)
        since, spent = time.monotonic(), processor_s(daemon.process.pid)
        time.sleep(seconds)
        used = (processor_s(daemon.process.pid) - spent) / (time.monotonic() - since)
        resident = daemon.memory_mib()
    crowd.close()
    daemon.stop()
    return {
        "rate": rate,
        "feeds": feeds,
        "core": round(used, 4),
        "resident_mib": round(resident, 1),
        "first_forecast_s": first and round(first, 2),
    }
