"""Hours of a day with faults, replayed at high speed: the memory stays what it was."""

import random
import subprocess
import time
from pathlib import Path

from daemon import Daemon, checked

# A forecast of few futures: what is watched is what grows, and a day must not take a day.
SMALL = """
futures = 16
particles = 64
calm_refresh_s = 60
"""


def stamped(feed, at_ms, sentence):
    """A line of a recording."""
    body = f"s:{feed},c:{at_ms}"
    total = 0
    for char in body.encode():
        total ^= char
    return f"\\{body}*{total:02X}\\{sentence}"


def faulty(day, hours, seed, path):
    """A day over and over with faults of every kind, as a recording; gives the number of faults."""
    dice = random.Random(seed)
    lines = []
    for line in Path(day).read_text().splitlines():
        tag, _, sentence = line[1:].partition("\\")
        fields = dict(f.split(":", 1) for f in tag.split("*")[0].split(","))
        lines.append((int(fields["c"]), fields["s"], sentence + "\r\n"))
    first, length = lines[0][0], lines[-1][0] - lines[0][0] + 1000
    faults, sequence = 0, 0
    with open(path, "w", newline="") as out:
        for round_ in range(int(hours * 3_600_000 / length) + 1):
            silent_until, silent, garbled_until = 0, "", 0
            for at, feed, sentence in lines:
                at += round_ * length
                roll = dice.random()
                if roll < 0.002:
                    # An instrument is silent for up to half a minute.
                    silent, silent_until = sentence[3:6], at + dice.randint(2000, 30_000)
                    faults += 1
                elif roll < 0.004:
                    garbled_until = at + dice.randint(500, 5000)
                    faults += 1
                elif roll < 0.03:
                    name = "".join(dice.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ") for _ in range(5))
                    out.write(stamped(f"f{dice.randint(0, 9999)}", at, checked(f"{name},1,2")))
                    faults += 1
                elif roll < 0.031:
                    value = dice.choice(["MWV,0.0,R,0.0,N,A", "MWV,nan,R,,N,A", "HDT,999.0,T"])
                    out.write(stamped(feed, at, checked("II" + value)))
                    faults += 1
                if sentence[3:6] == silent and at < silent_until:
                    continue
                if at < garbled_until and feed != "crew":
                    sentence = sentence[: dice.randint(1, 12)] + "\x00\xff\r\n"
                if sentence.startswith("$PSKWT"):
                    # Each round says what it says anew, under numbers of its own.
                    sequence += 1
                    fields = sentence[1:].split("*")[0].split(",")
                    sentence = checked(",".join([fields[0], str(sequence), *fields[2:]]))
                out.write(stamped(feed, at, sentence))
    return faults


def attack(binary, directory, day, hours=10.0, seed=3):
    daemon = Daemon(binary, directory)
    settings = daemon.settings.read_text().replace("[forecast]\n", "[forecast]" + SMALL)
    daemon.settings.write_text(settings)
    log = daemon.dir / "hours.nmea"
    faults = faulty(day, hours, seed, log)
    begun = time.monotonic()
    replay = subprocess.Popen(
        [daemon.binary, "replay", str(log), "--settings", str(daemon.settings)],
        stdout=open(daemon.dir / "advisories.jsonl", "w"),
        stderr=subprocess.DEVNULL,
    )
    daemon.process = replay
    # How far it has come is what it has read of the log.
    size, seen = log.stat().st_size, []
    while replay.poll() is None:
        try:
            read = next(
                int(line.split()[1])
                for line in Path(f"/proc/{replay.pid}/io").read_text().splitlines()
                if line.startswith("rchar")
            )
            seen.append((min(read / size, 1.0), daemon.memory_mib()))
        except (OSError, StopIteration, ValueError):
            pass
        time.sleep(0.2)
    took = time.monotonic() - begun
    seen = [(share, mib) for share, mib in seen if mib > 0]
    # Each round of the day brings turns, plans and faults of its own; five of them fill what is kept.
    warm = max(0.1, 1.0 / hours)
    early = max(mib for share, mib in seen if share <= warm)
    late = max(mib for share, mib in seen if share > warm)
    revisions = sum(1 for _ in open(daemon.dir / "advisories.jsonl")) - 1
    return {
        "hours": hours,
        "faults": faults,
        "took, s": round(took),
        "revisions": revisions,
        "memory up to / after the first hour or tenth, most, MiB": [round(early, 2), round(late, 2)],
        "ok": replay.returncode == 0 and late <= 1.05 * early and revisions > 0,
    }
