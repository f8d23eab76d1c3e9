"""Resident memory while a day is replayed to many phones."""

import subprocess
import time
from pathlib import Path

from daemon import Daemon, checked
from load import seated
from phones import Phones


def long_day(day, hours, path):
    """A recording repeated for so many hours; gives its length in seconds."""
    lines = []
    for line in Path(day).read_text().splitlines():
        tag, _, sentence = line[1:].partition("\\")
        fields = dict(f.split(":", 1) for f in tag.split("*")[0].split(","))
        lines.append((int(fields["c"]), fields["s"], sentence))
    first, length = lines[0][0], lines[-1][0] - lines[0][0] + 1000
    sequence = 0
    with open(path, "w", newline="") as out:
        for round_ in range(int(hours * 3_600_000 / length) + 1):
            for at, feed, sentence in lines:
                at += round_ * length
                if at - first > hours * 3_600_000:
                    break
                if sentence.startswith("$PSKWT"):
                    # Each round says what it says anew, under numbers of its own.
                    sequence += 1
                    fields = sentence[1:].split("*")[0].split(",")
                    sentence = checked(",".join([fields[0], str(sequence), *fields[2:]])).strip()
                body = f"s:{feed},c:{at}"
                total = 0
                for char in body.encode():
                    total ^= char
                out.write(f"\\{body}*{total:02X}\\{sentence}\r\n")
    return hours * 3600


def measure(binary, directory, day, hours, speed, phones=50):
    """Memory over the replayed hours: [(hours, MiB), ...]."""
    daemon = Daemon(binary, directory)
    seated(daemon, phones)
    log = daemon.dir / "hours.nmea"
    length_s = long_day(day, hours, log)
    daemon.process = subprocess.Popen(
        [daemon.binary, "replay", str(log), "--settings", str(daemon.settings)]
        + ["--serve", "--speed", str(speed), "--bind", f"127.0.0.1:{daemon.http}"],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    end = time.monotonic() + 30
    while True:
        try:
            first = daemon.state(timeout=1)["at_unix_ms"]
            if first > 0:
                break
        except OSError:
            if time.monotonic() > end:
                raise
        time.sleep(0.02)
    start = [0.0, round(daemon.memory_mib(), 1)]
    crowd = Phones(phones, daemon.http)
    curve, futures = [start], []
    end = time.monotonic() + 3 * length_s / speed + 60
    while daemon.process.poll() is None and time.monotonic() < end:
        passed = (daemon.state()["at_unix_ms"] - first) / 3_600_000
        # The page stays open after the log's end, but the streams close.
        if passed > 0.9 * hours and passed - curve[-1][0] < 0.01 / speed:
            break
        curve.append([round(passed, 3), round(daemon.memory_mib(), 1)])
        forecast = daemon.get("/v1/forecast")[1].get("forecast")
        futures.append(forecast["futures"] if forecast else 0)
        time.sleep(1)
    heard, closed = crowd.close()
    daemon.kill()

    def at(hour):
        return next((mib for passed, mib in curve if passed >= hour), curve[-1][1])

    return {
        "hours": hours,
        "speed": speed,
        "phones": phones,
        "closed": closed,
        "states": len(heard),
        "start_mib": start[1],
        "hour_mib": at(min(1, 0.98 * hours)),
        "end_mib": curve[-1][1],
        "most_mib": max(mib for _, mib in curve),
        "futures_median": sorted(futures)[len(futures) // 2] if futures else 0,
        "curve": curve,
    }
