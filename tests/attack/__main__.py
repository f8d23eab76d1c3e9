"""Attacks on a daemon of one's own, on loopback: python3 tests/attack BINARY [NAME...] [--long]

Prints one JSON object an attack and ends with 1 when one of them succeeds. BINARY is the built
program; days are made by `cargo run --example days -- demo DIR`, or given by --day FILE.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import crowd
import flood
import kill
import late
import soak

PROJECT = Path(__file__).resolve().parent.parent.parent


def demo_day(directory):
    """The demo's day as a recording."""
    subprocess.run(
        ["cargo", "run", "--quiet", "--example", "days", "--", "demo", str(directory)],
        cwd=PROJECT,
        check=True,
    )
    return Path(directory) / "demo.nmea"


def main():
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("binary")
    words.add_argument("names", nargs="*")
    words.add_argument("--long", action="store_true", help="whole day, 200 kills, 10 hours")
    words.add_argument("--day", help="a recording to play instead of the demo's day")
    given = words.parse_args()
    long = given.long
    with tempfile.TemporaryDirectory() as scratch:
        day = Path(given.day) if given.day else None

        def the_day():
            nonlocal day
            day = day or demo_day(Path(scratch) / "day")
            return day

        attacks = {
            "late": lambda d: late.attack(given.binary, d, the_day(), 720 if long else 90),
            "kill": lambda d: kill.attack(given.binary, d, 200 if long else 40),
            "crowd": lambda d: crowd.attack(given.binary, d, 20 if long else 5),
            "posts": lambda d: flood.posts(given.binary, d),
            "addresses": lambda d: flood.addresses(given.binary, d),
            "soak": lambda d: soak.attack(given.binary, d, the_day(), 10.0 if long else 1.5),
        }
        unknown = set(given.names) - set(attacks)
        if unknown:
            words.error(f"no such attack: {', '.join(sorted(unknown))}; there are {', '.join(attacks)}")
        failed = []
        for name in given.names or attacks:
            begun = time.monotonic()
            figures = attacks[name](Path(scratch) / name)
            figures = {"attack": name, **figures, "whole, s": round(time.monotonic() - begun)}
            print(json.dumps(figures), flush=True)
            if not figures["ok"]:
                failed.append(name)
        if failed:
            print(f"not withstood: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
