#!/usr/bin/env python3
"""Makes recordings of reference days, ready for `skimwatch score`.

    python3 tests/days/convert.py DAY... --into DIR

DAY is the path of a reference day without its endings: beside it lie DAY.instruments.nmea,
DAY.crew.json, DAY.settings.json and DAY.truth.json (their README tells what is in them).
Written for each, with NAME the last part of DAY:

    DIR/NAME.nmea             instruments and crew sentences in order of time, with TAG times
    DIR/NAME.toml             settings: the rig as the crew believes it
    DIR/NAME.nmea.truth.json  the truth, as it is

Words and fields of the crew's sentence stand in src/decode/crew_sentence.rs. Standard library only.
"""

import argparse
import json
import re
import shutil
import sys
from pathlib import Path

INSTRUMENTS, CREW = "instruments", "crew"
STATES = {"airborne": "A", "skipping": "S", "dragging": "D"}
LINES = {"kite": "K", "main": "M"}
# `\c:<unix ms>*hh\` and the sentence behind.
TAGGED = re.compile(r"\\c:(\d{13})\*[0-9A-Fa-f]{2}\\([$!].*)")


class Refused(Exception):
    """What is wrong, where, and what was expected."""


def checksum(text):
    total = 0
    for byte in text.encode("ascii"):
        total ^= byte
    return f"{total:02X}"


def recorded(feed, at_ms, sentence):
    block = f"s:{feed},c:{at_ms:013d}"
    return f"\\{block}*{checksum(block)}\\{sentence}\r\n"


def words(said):
    """Word and fields of one crew input."""
    kind = said["kind"]
    if kind == "line_out":
        return f"LINES,{said['kite_m']:.2f},{said['main_m']:.2f}"
    if kind == "bait":
        return f"BAIT,{STATES[said['state']]}"
    if kind == "elevation":
        return f"ELEV,{said['deg']:.2f}"
    if kind == "turn":
        return f"TURN,{said['by_deg']:.2f},{said['rate_deg_s']:.3f},{said['in_s']:.2f}"
    if kind in ("gave", "took"):
        metres = abs(said["m"]) if kind == "gave" else -abs(said["m"])
        return f"MOVED,{LINES[said['line']]},{metres:.2f}"
    raise Refused(f"kind {kind!r} is not known: line_out, bait, elevation, turn, gave or took")


def crew_lines(said, first_ms, name):
    for number, one in enumerate(said, start=1):
        try:
            body = f"PSKWT,{number},{words(one)}"
            at_ms = first_ms + round(1000 * one["t_s"])
        except KeyError as missing:
            raise Refused(f"{name}: entry {number}: no, or no known, {missing}") from None
        except Refused as why:
            raise Refused(f"{name}: entry {number}: {why}") from None
        yield at_ms, recorded(CREW, at_ms, f"${body}*{checksum(body)}")


def instrument_lines(text, name):
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        found = TAGGED.fullmatch(line.strip())
        if not found:
            raise Refused(f"{name}, line {number}: no TAG block with a time in ms before the sentence")
        at_ms = int(found.group(1))
        yield at_ms, recorded(INSTRUMENTS, at_ms, found.group(2))


def number(value):
    """A TOML float, without the noise of its last digits."""
    return repr(float(f"{value:.12g}"))


def place(tip):
    keys = ("aft_m", "starboard_m", "height_m")
    return "{ " + ", ".join(f"{key} = {number(tip[key])}" for key in keys) + " }"


def settings(name, believed, truth, said):
    """The rig as the crew believes it. Only the height of the wind sensor is from the truth: a
    crew measures that once, with a tape."""
    out = next((one for one in said if one["kind"] == "line_out"), None)
    if out is None:
        raise Refused(f"{name}.crew.json: nobody says how much line is out (kind line_out)")
    tips, kite, bait, marker = (believed[k] for k in ("rod_tips", "kite", "bait", "marker"))
    lines = [
        f"# The rig of the reference day {name} as its crew believes it.",
        "",
        "[boat]",
        f"wind_sensor_height_m = {number(truth['mast_height_m'])}",
        f"rod_tip_kite = {place(tips['kite'])}",
        f"rod_tip_main = {place(tips['main'])}",
        "",
        "[[feed]]",
        f'name = "{INSTRUMENTS}"',
        'kind = "file"',
        f'path = "{name}.nmea"',
    ]

    def section(key, values):
        lines.extend(["", f"[rig.{key}]"])
        lines.extend(f"{k} = {number(v)}" for k, v in values.items())

    def line(key):
        stuff = believed[key]
        return {
            "diameter_mm": 1000 * stuff["diameter_m"],
            "mass_g_per_m": 1000 * stuff["mass_per_m_kg"],
        }

    section("kite", {k: kite[k] for k in ("area_m2", "mass_kg", "cl", "cd")})
    clip = {"clip_to_kite_m": believed["kite_line"]["clip_to_kite_m"]}
    section("kite_line", clip | line("kite_line"))
    section("main_line", line("main_line"))
    section("marker", {k: marker[k] for k in ("above_bait_m", "diameter_m", "mass_kg")})
    sizes = ("mass_kg", "height_m", "volume_m3", "wet_drag_area_m2", "air_drag_area_m2")
    lines.extend(["", "[rig.bait]", "# Invented, and without effect: every size is given below."])
    lines.append("length_m = 0.3")
    lines.extend(f"{k} = {number(bait[k])}" for k in sizes)
    section("out_at_start", {"kite_m": round(out["kite_m"], 2), "main_m": round(out["main_m"], 2)})
    return "\n".join(lines) + "\n"


def convert(day, into):
    """One day; gives the number of lines in its recording."""
    name = day.name

    def read(ending):
        path = day.with_name(f"{name}.{ending}")
        try:
            return path.read_text(encoding="utf-8")
        except OSError as why:
            raise Refused(f"cannot read {path}: {why.strerror}") from None

    def read_json(ending):
        try:
            return json.loads(read(ending))
        except json.JSONDecodeError as why:
            raise Refused(f"{name}.{ending}: {why}") from None

    lines = list(instrument_lines(read("instruments.nmea"), f"{name}.instruments.nmea"))
    if not lines:
        raise Refused(f"{name}.instruments.nmea holds no sentence")
    first_ms = lines[0][0]
    said, truth = read_json("crew.json"), read_json("truth.json")
    lines.extend(crew_lines(said, first_ms, f"{name}.crew.json"))
    # A stable sort: at one moment the instruments come first.
    lines.sort(key=lambda line: line[0])
    try:
        toml = settings(name, read_json("settings.json"), truth, said)
    except KeyError as missing:
        raise Refused(f"{name}.settings.json or {name}.truth.json: no key {missing}") from None
    into.mkdir(parents=True, exist_ok=True)
    recording = "".join(line for _, line in lines)
    (into / f"{name}.nmea").write_bytes(recording.encode("ascii"))
    (into / f"{name}.toml").write_text(toml, encoding="utf-8")
    shutil.copyfile(day.with_name(f"{name}.truth.json"), into / f"{name}.nmea.truth.json")
    return len(lines)


def main():
    parser = argparse.ArgumentParser(
        description="Makes recordings of reference days, ready for `skimwatch score`."
    )
    parser.add_argument("days", metavar="DAY", nargs="+", type=Path, help="without its endings")
    parser.add_argument("--into", metavar="DIR", type=Path, required=True)
    arguments = parser.parse_args()
    for day in arguments.days:
        try:
            count = convert(day, arguments.into)
        except (Refused, OSError) as why:
            sys.exit(f"convert.py: {why}")
        print(f"{day.name}: {count} lines")


if __name__ == "__main__":
    main()
