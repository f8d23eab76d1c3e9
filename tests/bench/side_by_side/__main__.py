"""Measures skimwatch beside what others do, and writes tests/bench/README.md and its plots.

python3 tests/bench/side_by_side [--quick] [--binary FILE] [NAME...]; see tests/bench/README.md.
"""

import argparse
import datetime
import json
import os
import platform
import subprocess
import sys
import tempfile
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
PROJECT = HERE.parent.parent.parent
WORK = PROJECT / "target" / "side_by_side"
sys.path += [str(PROJECT / "tests" / "attack"), str(PROJECT / "tests" / "mooring")]


def into_environment():
    """Goes on in an environment that has the pinned packages."""
    home = WORK / "venv"
    python = home / "bin" / "python"
    if Path(sys.prefix) == home:
        return
    wanted = (HERE / "requirements.txt").read_text()
    done = home / "requirements.txt"
    if not done.exists() or done.read_text() != wanted:
        venv.create(home, with_pip=True, clear=True)
        pip = [python, "-m", "pip", "install", "--quiet", "--requirement", HERE / "requirements.txt"]
        subprocess.run(pip, check=True)
        done.write_text(wanted)
    os.execv(python, [str(python), str(HERE), *sys.argv[1:]])


def machine():
    cpu = next(
        (line.partition(":")[2].strip() for line in Path("/proc/cpuinfo").read_text().splitlines()
         if line.startswith("model name")),
        platform.machine(),
    )
    rust = subprocess.run(["rustc", "--version"], capture_output=True, text=True, check=True)
    return f"{cpu}, {os.cpu_count()} cores, {rust.stdout.strip()}"


def cargo(*words, **environment):
    subprocess.run(["cargo", *words], cwd=PROJECT, check=True, env={**os.environ, **environment})


def bench(name, quick, only=None, **environment):
    """Runs a criterion bench; gives the median seconds of each of its parts, a sentence where it
    counts sentences."""
    pace = ["--quick"] if quick else ["--warm-up-time", "1", "--measurement-time", "3"]
    begun = datetime.datetime.now().timestamp()
    cargo("bench", "--bench", name, "--", *([only] if only else []), *pace, "--noplot", **environment)
    found = {}
    for file in (PROJECT / "target" / "criterion").rglob("new/benchmark.json"):
        estimates = file.parent / "estimates.json"
        if estimates.stat().st_mtime >= begun:
            part = json.loads(file.read_text())
            count = (part["throughput"] or {}).get("Elements", 1)
            seconds = json.loads(estimates.read_text())["median"]["point_estimate"] / 1e9
            found[part["full_id"]] = seconds / count
    return found


def parsers(given):
    import parsers as them

    beside = sorted((PROJECT.parent / "shared" / "nmea-logs").glob("*"))
    sources = sorted((PROJECT / "fixtures").glob("*.nmea")) + beside
    path = WORK / "lines.nmea"
    lines = them.corpus(path, sources, 5000 if given.quick else 50_000)
    # The pace of a shared machine changes within seconds: the sides take turns, and the least of each
    # counts. Lines that the bare crate refuses are left out there.
    rounds = [
        (them.python_s(lines), bench("sentences", True, SENTENCES=str(path)))
        for _ in range(3 if given.quick else 15)
    ]
    return {
        "lines": len(lines),
        "python_s": min(python_s for python_s, _ in rounds),
        "ours_s": min(times["sentences/framed and decoded"] for _, times in rounds),
        "bare_s": min(times["sentences/bare nmea crate"] for _, times in rounds),
    }


def lines(given):
    import lines as them

    places = WORK / "hang.json"
    times = bench("rig", given.quick, "steady, no hint|swinging bait", HANG=str(places))
    ours = [bait for t, bait, _ in json.loads(places.read_text()) if t >= 1]
    return {
        "our_swing_s": times["swinging bait, 60 s"],
        "our_steady_s": times["steady, no hint"],
        "moving": them.moving(ours),
        "settled": them.settled(5 if given.quick else 15),
        "balanced": them.balanced(3 if given.quick else 9),
    }


def forecast(given):
    return {"times_s": bench("forecast", given.quick)}


def profile(given):
    said = subprocess.run(
        ["cargo", "bench", "--quiet", "--bench", "profile", "--", "--json", WORK / "profile.json"],
        cwd=PROJECT, check=True, capture_output=True, text=True,
    ).stdout
    return {"days": json.loads((WORK / "profile.json").read_text()), "table": said.strip()}


def days():
    """The two days as recordings."""
    folder = WORK / "days"
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "calm.nmea").exists():
        cargo("bench", "--quiet", "--bench", "profile", "--", "--days", str(folder))
    return folder / "turn-rich.nmea", folder / "calm.nmea"


def daemon(given):
    import load

    turns, _ = days()
    runs = []
    for rate in (10, 100, 1000):
        for phones in (1, 50, 500):
            with tempfile.TemporaryDirectory() as scratch:
                seconds = 10 if given.quick else 40
                runs.append(load.latency(given.binary, scratch, turns, rate, phones, seconds))
                print(json.dumps(runs[-1]), flush=True)
    return {"runs": runs}


def processor(given):
    import load

    turns, calm = days()
    seconds = 15 if given.quick else 120
    cases = {
        "turn-rich": (turns, {}),
        "calm": (calm, {}),
        "no rig out": (calm, {"rig": False}),
        "no rig out, 4 feeds": (calm, {"rig": False, "feeds": 4}),
        "no rig out, 16 feeds": (calm, {"rig": False, "feeds": 16}),
        "no rig out, nearly silent": (calm, {"rig": False, "rate": 0.1}),
    }
    runs = {}
    for name, (day, more) in cases.items():
        with tempfile.TemporaryDirectory() as scratch:
            run = load.processor(given.binary, scratch, day, seconds, **more)
            runs[name] = {**run, "rig": more.get("rig", True)}
            print(name, json.dumps(run), flush=True)
    return {"runs": runs}


def memory(given):
    import memory as them

    turns, _ = days()
    with tempfile.TemporaryDirectory() as scratch:
        hours, speed = (1.0, 60) if given.quick else (10.0, 60)
        return them.measure(given.binary, scratch, turns, hours, speed)


PARTS = {part.__name__: part for part in
         (parsers, lines, forecast, profile, daemon, processor, memory)}


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("names", nargs="*", help=", ".join(PARTS))
    words.add_argument("--quick", action="store_true")
    words.add_argument("--binary", help="the built program; otherwise it is built")
    given = words.parse_args()
    unknown = set(given.names) - set(PARTS)
    if unknown:
        words.error(f"no such part: {', '.join(sorted(unknown))}; there are {', '.join(PARTS)}")
    WORK.mkdir(parents=True, exist_ok=True)
    into_environment()
    if not given.binary:
        cargo("build", "--release")
        given.binary = PROJECT / "target" / "release" / "skimwatch"
    import table

    kept = WORK / "results.json"
    results = json.loads(kept.read_text()) if kept.exists() else {}
    for name in given.names or PARTS:
        print(f"== {name}", flush=True)
        figures = PARTS[name](given)
        date = datetime.date.today().isoformat()
        load = os.getloadavg()[1]
        results[name] = {**figures, "date": f"{date}, load average {load:.1f}", "quick": given.quick}
        results["machine"] = machine()
        kept.write_text(json.dumps(results, indent=1))
        table.write(results, HERE.parent)
    print((HERE.parent / "README.md").read_text())


if __name__ == "__main__":
    main()
