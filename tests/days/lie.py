#!/usr/bin/env python3
"""Lays one lie of an instrument over recordings, ready for `skimwatch score`.

    python3 tests/days/lie.py LIE RECORDING... --into DIR

LIE is one of
    vane-offset     the vane shows 15 degrees too much
    vane-frozen     from minute 4 on the vane shows what it showed then
    log-low         the log shows 0.8 of the speed through the water
    heading-offset  the compass shows 10 degrees too much

RECORDING is a file NAME.nmea with TAG times, as convert.py writes it. Settings (NAME.toml) and truth
(NAME.nmea.truth.json) beside it are copied as they are. Standard library only.
"""

import argparse
import re
import shutil
from pathlib import Path

from convert import checksum

TAGGED = re.compile(r"(\\[^\\]*c:(\d{13})[^\\]*\\)\$([^*]*)\*..(\s*)$")
FROZEN_FROM_MS = 240_000


def turned(text, by_deg):
    """A direction in degrees, turned; an empty field stays empty."""
    return f"{(float(text) + by_deg) % 360:05.1f}" if text else text


def vane_offset(kind, fields, _):
    if kind == "MWV":
        fields[1] = turned(fields[1], 15)
    elif kind == "VWR" and fields[1]:
        angle = float(fields[1]) * (1 if fields[2] == "R" else -1) + 15
        angle = (angle + 180) % 360 - 180
        fields[1:3] = f"{abs(angle):05.1f}", "R" if angle >= 0 else "L"


def heading_offset(kind, fields, _):
    for at in {"HDG": [1], "VHW": [1, 3]}.get(kind, []):
        fields[at] = turned(fields[at], 10)


def log_low(kind, fields, _):
    for at in [5, 7] if kind == "VHW" else []:
        fields[at] = f"{float(fields[at]) * 0.8:04.1f}" if fields[at] else ""


class VaneFrozen:
    def __init__(self):
        self.held = {}

    def __call__(self, kind, fields, since_ms):
        if since_ms < FROZEN_FROM_MS:
            return
        if kind == "MWV":
            fields[1] = self.held.setdefault((kind, fields[2]), fields[1])
        elif kind == "VWR":
            fields[1:3] = self.held.setdefault(kind, fields[1:3])


LIES = {
    "vane-offset": lambda: vane_offset,
    "vane-frozen": VaneFrozen,
    "log-low": lambda: log_low,
    "heading-offset": lambda: heading_offset,
}


def lay(lie, lines):
    first = None
    for line in lines:
        found = TAGGED.match(line)
        # What the crew says is no instrument's.
        if not found or found[3].startswith("PSKW"):
            yield line
            continue
        tag, at, body, ending = found.groups()
        first = first or int(at)
        fields = body.split(",")
        lie(fields[0][2:], fields, int(at) - first)
        body = ",".join(fields)
        yield f"{tag}${body}*{checksum(body)}{ending}"


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("lie", choices=LIES)
    arguments.add_argument("recordings", nargs="+", type=Path)
    arguments.add_argument("--into", required=True, type=Path)
    given = arguments.parse_args()
    given.into.mkdir(parents=True, exist_ok=True)
    for recording in given.recordings:
        with recording.open(newline="") as lines, (given.into / recording.name).open("w", newline="") as out:
            out.writelines(lay(LIES[given.lie](), lines))
        for beside in (recording.with_suffix(".toml"), Path(f"{recording}.truth.json")):
            shutil.copy(beside, given.into)


if __name__ == "__main__":
    main()
