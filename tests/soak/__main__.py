"""A day of 24 h with faults, replayed at high speed to 200 phones of which some stall.

python3 tests/soak BINARY [--speed N] [--hours H] [--days DIR] [--into DIR]; see tests/soak/README.md.
"""

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path += [str(HERE.parent / "attack"), str(HERE.parent / "bench" / "side_by_side")]

import day
import plots
from daemon import PROJECT, free_port, steady
from phones import ADVISORIES, COUNTS, STATE, Phones

# Hours of the day after which nothing more may be kept: rig out and in, turns, lies, a clock set back.
WARM_H = 4.0
# The program itself calls an older picture late.
LATE_S = 3.0
SAMPLE_S = 5.0
# Forecasts small enough that there is time for them: what is watched is what grows.
SMALL = "\n[forecast]\nfutures = 32\nparticles = 64\n"


class Program:
    """`skimwatch replay --serve` of a recording."""

    def __init__(self, binary, log, scratch, speed):
        self.http = free_port()
        phones = sum(COUNTS.values())
        settings = Path(scratch) / "boat.toml"
        settings.write_text(
            (PROJECT / "config" / "demo.toml").read_text()
            + SMALL
            + f'\n[serve]\nmdns_name = ""\nstreams = {phones + 20}\nconnections = {phones + 60}\n'
        )
        self.process = subprocess.Popen(
            [str(binary), "replay", str(log), "--settings", str(settings), "--serve"]
            + ["--speed", str(speed), "--bind", f"127.0.0.1:{self.http}"],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
            env={k: v for k, v in os.environ.items() if k != "JOURNAL_STREAM"},
        )
        self.said, self.open, self.ended = [], threading.Event(), threading.Event()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self):
        for line in self.process.stderr:
            self.said.append(line.rstrip())
            if "page at" in line:
                self.open.set()
            if "the log has ended" in line:
                self.ended.set()

    def metrics(self):
        with urllib.request.urlopen(f"http://127.0.0.1:{self.http}/metrics", timeout=60) as answer:
            lines = answer.read().decode().splitlines()
        return {name: float(value) for name, _, value in
                (line.rpartition(" ") for line in lines if not line.startswith("#"))}

    def state(self):
        with urllib.request.urlopen(f"http://127.0.0.1:{self.http}/v1/state", timeout=60) as answer:
            return json.load(answer)

    def resident_mib(self):
        text = Path(f"/proc/{self.process.pid}/status").read_text()
        fields = dict(line.split(":", 1) for line in text.splitlines())
        return int(fields["VmRSS"].split()[0]) / 1024, int(fields["Threads"])

    def files(self):
        return len(os.listdir(f"/proc/{self.process.pid}/fd"))

    def processor_s(self):
        after = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(after[11]) + int(after[12])) / os.sysconf("SC_CLK_TCK")


def lived_h(at_ms, before_h):
    """Hours of the day at a moment of its clock, not before those that were reached already."""
    for hour in [step[0] for step in day.STEPS] + [24.1]:
        lived = (at_ms - day.START_MS - sum(by for at, by in day.STEPS if at < hour)) / day.HOUR_MS
        if lived <= hour + 0.02 and lived >= before_h - 0.02:
            return max(lived, before_h)
    return before_h


def watch(program, crowd, hours):
    """Samples until the log has ended; [{...}]."""
    samples, begun = [], time.monotonic()
    while not program.ended.wait(SAMPLE_S):
        if program.process.poll() is not None:
            break
        figures = program.metrics()
        resident, threads = program.resident_mib()
        at = 1000 * figures["skimwatch_engine_time_seconds"]
        hour = lived_h(at, samples[-1]["hour"] if samples else 0.0)
        samples.append({
            "wall_s": round(time.monotonic() - begun, 1), "hour": round(hour, 3),
            "mib": round(resident, 2), "threads": threads, "files": program.files(),
            "processor_s": program.processor_s(), "pictures": figures["skimwatch_pictures_total"],
            "futures": figures.get("skimwatch_forecast_futures", 0),
            "readers": sum(v for k, v in figures.items() if k.startswith("skimwatch_stream_readers")),
        })
        print(json.dumps(samples[-1]), file=sys.stderr, flush=True)
    return samples


def judged(samples, heard, before, after, files, hours, ended, status):
    """Figures, and the promises with whether each was kept."""
    phones = heard["phones"]

    def of(kind, path):
        return [phone for phone in phones if (phone["kind"], phone["path"]) == (kind, path)]

    pages, followers = of("healthy", STATE), of("healthy", ADVISORIES)
    returning = of("coming", ADVISORIES)
    slow = [phone for phone in of("slow", STATE) if phone["age_s"]]
    published = int(after["skimwatch_advisory_revisions_total"])
    warm = [sample for sample in samples if sample["hour"] <= WARM_H]
    rest = [sample for sample in samples if sample["hour"] > WARM_H]
    most = {name: [max((s[name] for s in part), default=0) for part in (warm, rest)]
            for name in ("mib", "threads", "files")}
    handed = {path: int(after[f'skimwatch_stream_events_total{{stream="{name}"}}'])
              for path, name in ((STATE, "state"), (ADVISORIES, "advisories"))}
    received = {path: sum(p["events"] for p in phones if p["path"] == path)
                for path in (STATE, ADVISORIES)}
    promises = {
        "the log was played to its end": ended and status == 0,
        f"memory after hour {WARM_H:g} within 5 % of the most before": bool(rest)
        and most["mib"][1] <= 1.05 * most["mib"][0],
        "no more threads, and no more than 20 files more": most["threads"][1] <= most["threads"][0]
        and most["files"][1] <= most["files"][0] + 20,
        "the files of all phones are given back": files[1] <= files[0] + 4,
        "no healthy phone was dropped or refused": all(
            p["ended"] == p["refused"] == 0 for p in pages + followers),
        "no slow page was taken for one that stalls": all(p["ended"] == 0 for p in slow),
        "healthy followers of advisories have every revision, once, in order": bool(followers)
        and all(p["missed"] == p["gaps"] == 0 and p["last_id"] == published
                and p["events"] == published - p["first_id"] for p in followers),
        "followers that came and went have every revision, once, in order": bool(returning)
        and all(p["missed"] == p["gaps"] == 0 for p in returning),
        "healthy pages were shown no picture after a later one": all(
            p["backward"] == 0 for p in pages),
        f"healthy pages were never shown a picture that was superseded for more than {LATE_S:g} s":
            bool(pages) and all(p["wait_s"] and p["wait_s"][2] <= LATE_S for p in pages),
        "healthy pages have the last picture": all(
            p["last_picture"] == heard["pictures"] - 1 for p in pages),
        "no phone has more than was handed to it": all(
            received[path] <= handed[path] for path in handed),
    }
    waits = [p["wait_s"] for p in pages if p["wait_s"]]
    figures = {
        "hours": hours,
        "wall, min": round(samples[-1]["wall_s"] / 60, 1) if samples else None,
        "processor of the program, min": round(samples[-1]["processor_s"] / 60, 1) if samples else None,
        "pictures: published / seen by any phone": [
            int(after["skimwatch_pictures_total"]), heard["pictures"]],
        "revisions published": published,
        "states: handed / received": [handed[STATE], received[STATE]],
        "revisions: handed / received": [handed[ADVISORIES], received[ADVISORIES]],
        "states of a healthy page, least / most": [
            min(p["events"] for p in pages), max(p["events"] for p in pages)],
        "a later picture waited at a healthy page, s: median / 99 % / most": [
            round(max(w[i] for w in waits), 3) for i in range(3)] if waits else None,
        "age of a state at a slow page, s: median / 99 % / most": [
            round(max(p["age_s"][i] for p in slow), 3) for i in range(3)] if slow else None,
        "MB to all phones": round(sum(p["bytes"] for p in phones) / 1e6),
        "dropped": {name: int(after[f'skimwatch_stream_dropped_total{{cause="{name}"}}'])
                    for name in ("lagged", "stalled", "displaced")},
        "streams of those that came and went": sum(p["streams"] for p in phones if p["kind"] == "coming"),
        "slow ones ended": sum(p["ended"] for p in phones if p["kind"] == "slow"),
        "most up to / after warm-up": most,
        "files before the phones / after they left": files,
        "requests turned away": int(after["skimwatch_http_busy_total"] - before["skimwatch_http_busy_total"]),
    }
    return figures, promises


def by_hour(samples):
    """(hour, most MiB, files, threads, median futures, pictures) of each hour."""
    rows, pictures = [], 0
    for hour in range(25):
        part = [s for s in samples if hour <= s["hour"] < hour + 1]
        if part:
            futures = sorted(s["futures"] for s in part)[len(part) // 2]
            rows.append([hour, max(s["mib"] for s in part), max(s["files"] for s in part),
                         max(s["threads"] for s in part), int(futures),
                         int(part[-1]["pictures"] - pictures)])
            pictures = part[-1]["pictures"]
    return rows


def days_in(given):
    if given.days:
        return Path(given.days)
    into = PROJECT / "target" / "soak" / "days"
    for kind, first, count in (("calm", 0, 2), ("testing", 400, 3), ("sea-testing", 0, 1)):
        if not (into / f"{kind}-{first + count - 1:03}.nmea").exists():
            subprocess.run(["cargo", "run", "--quiet", "--example", "days", "--", kind, str(first),
                            str(count), str(into)], cwd=PROJECT, check=True)
    return into


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("binary")
    words.add_argument("--speed", type=float, default=48.0, help="seconds of the day in one")
    words.add_argument("--hours", type=float, default=24.0, help="less only to try it out")
    words.add_argument("--days", help="folder of the invented days; made if not given")
    words.add_argument("--into", help="folder for results.json and memory.svg")
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        log = Path(scratch) / "day.nmea"
        faults = day.write(days_in(given), log, given.hours)
        program = Program(given.binary, log, scratch, given.speed)
        try:
            if not program.open.wait(60):
                raise RuntimeError("no page: " + " | ".join(program.said[-5:]))
            before, files = program.metrics(), [program.files()]
            crowd = Phones(program.http)
            samples = watch(program, crowd, given.hours)
            steady(crowd.pictures)
            after = program.metrics()
            heard = crowd.close()
            end = time.monotonic() + 30
            while program.files() > files[0] + 4 and time.monotonic() < end:
                time.sleep(0.2)
            files.append(program.files())
            program.process.send_signal(signal.SIGTERM)
            status = program.process.wait(20)
        finally:
            program.process.kill()
        figures, promises = judged(
            samples, heard, before, after, files, given.hours, program.ended.is_set(), status)
    figures["faults"] = faults
    results = {"figures": figures, "promises": promises, "hours": by_hour(samples), "samples": samples,
               "phones": heard["phones"], "said": program.said[:20]}
    if given.into:
        into = Path(given.into)
        into.mkdir(parents=True, exist_ok=True)
        (into / "results.json").write_text(json.dumps(results, indent=1))
        plots.plot(into / "memory.svg", "Resident memory with 200 phones", "hours of the day", "MiB",
                   {"": [(s["hour"], s["mib"]) for s in samples]})
    for name, value in figures.items():
        print(f"{name}: {json.dumps(value)}")
    print("hour, most MiB, files, threads, futures, pictures")
    for row in results["hours"]:
        print(*row)
    for promise, kept in promises.items():
        print("kept  " if kept else "BROKEN", promise)
    return 0 if all(promises.values()) else 1


if __name__ == "__main__":
    sys.exit(main())
