"""Exports of the logbook against outside readers.

    pip install -r tests/contracts/requirements.txt
    python3 tests/contracts/exports.py target/debug/skimwatch

A fixture is replayed into a logbook and exported; gpxpy, geojson and DuckDB read what came out, and
it must be what SQLite reads from the logbook itself. Coarse exports must hold no finer position, and
those without positions none.
"""

import functools
import math
import re
import sqlite3
import subprocess
import sys
import tempfile
from datetime import timezone
from pathlib import Path

import duckdb
import geojson
import gpxpy

ROOT = Path(__file__).resolve().parents[2]
DAY = "2026-06-01"
START_MS = 1780300800000


def crew_line(at_s: float, sequence: int, words: str) -> str:
    def checksum(text: str) -> str:
        return f"{functools.reduce(lambda a, b: a ^ b, text.encode()):02X}"

    tag = f"s:crew,c:{START_MS + round(1000 * at_s)}"
    body = f"PSKWT,{sequence},{words}"
    return f"\\{tag}*{checksum(tag)}\\${body}*{checksum(body)}"


def recording(path: Path) -> None:
    """The fixture with a bite in it, all invented."""
    lines = (ROOT / "fixtures/turn-toward.nmea").read_text().splitlines()
    lines += [crew_line(30.5, 10, "MOVED,M,4.00"), crew_line(70.5, 11, "BITE"),
              crew_line(80.0, 12, "STRIKE,LANDED")]
    stamp = re.compile(r"c:(\d+)")
    lines.sort(key=lambda line: int(stamp.search(line)[1]))
    path.write_text("\r\n".join(lines) + "\r\n")


def near(one: float, other: float, within: float) -> bool:
    return math.isclose(one, other, rel_tol=0, abs_tol=within)


def main() -> int:
    if len(sys.argv) != 2:
        sys.exit(f"usage: {sys.argv[0]} BINARY")
    binary = str(Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as directory:
        at = Path(directory)
        recording(at / "day.nmea")
        book = at / "day.sqlite"

        def run(*arguments: object, status: int = 0) -> None:
            done = subprocess.run([binary, *map(str, arguments)], capture_output=True, text=True)
            assert done.returncode == status, (arguments, done.returncode, done.stderr)

        def export(form: str, name: str, *more: str, status: int = 0) -> Path:
            run("logbook", "export", "--logbook", book, "--day", DAY, "--format", form,
                "-o", at / name, *more, status=status)
            return at / name

        run("replay", at / "day.nmea", "--settings", ROOT / "config/demo.toml", "--logbook", book)
        rows = sqlite3.connect(book)
        boat = rows.execute("SELECT at_ms, latitude_deg, longitude_deg FROM states "
                            "WHERE latitude_deg IS NOT NULL ORDER BY at_ms").fetchall()
        bites = rows.execute("SELECT at_ms, latitude_deg, longitude_deg, result FROM bites").fetchall()
        assert len(boat) > 5 and len(bites) == 1, (boat, bites)

        read = gpxpy.parse(export("gpx", "day.gpx").read_text())
        tracks = {track.name.split(",")[0]: [p for s in track.segments for p in s.points]
                  for track in read.tracks}
        assert read.version == "1.1" and set(tracks) == {"boat", "bait"}, tracks.keys()
        assert len(tracks["boat"]) == len(boat)
        for point, (at_ms, latitude, longitude) in zip(tracks["boat"], boat):
            when = point.time.replace(tzinfo=timezone.utc).timestamp()
            assert near(1000 * when, at_ms, 1), (point, at_ms)
            assert near(point.latitude, latitude, 1e-6) and near(point.longitude, longitude, 1e-6)
        for point in tracks["bait"]:
            # The bait is behind the boat, on a line of less than 180 m.
            metres = min(point.distance_2d(other) for other in tracks["boat"])
            assert 0 < metres < 180, metres
        assert [(w.name, w.description) for w in read.waypoints] == [("bite", bites[0][3])]
        assert near(read.waypoints[0].latitude, bites[0][1], 1e-6)

        read = geojson.loads(export("geojson", "day.geojson").read_text())
        assert read.is_valid, read.errors()
        of = {f["properties"]["what"]: f for f in read["features"]}
        assert set(of) == {"boat", "bait", "bite"}
        points = [point for line in of["boat"]["geometry"]["coordinates"] for point in line]
        assert len(points) == len(boat)
        assert all(near(p[0], b[2], 1e-6) and near(p[1], b[1], 1e-6) for p, b in zip(points, boat))
        assert of["bite"]["properties"]["result"] == bites[0][3] == "landed"

        tables = export("csv", "csv")
        engine = duckdb.connect()
        for table, logged in [("states", "states"), ("spans", "spans"), ("bites", "bites"),
                              ("advisories", "advisories"), ("line_moves", "line_moves")]:
            found, = engine.execute(f"SELECT count(*) FROM read_csv('{tables}/{table}.csv', "
                                    "header = true)").fetchone()
            expected, = rows.execute(f"SELECT count(*) FROM {logged}").fetchone()
            assert found == expected > 0, (table, found, expected)
        columns = "latitude_deg, longitude_deg, heading_deg_true, wind_at_sensor_mps, kite_elevation_deg"
        found = engine.execute(f"SELECT {columns} FROM read_csv('{tables}/states.csv', header = true)")
        expected = rows.execute(f"SELECT {columns} FROM states ORDER BY at_ms")
        assert found.fetchall() == expected.fetchall()
        spent, = engine.execute("SELECT sum(epoch_ms(\"to\") - epoch_ms(\"from\")) FROM "
                                f"read_csv('{tables}/spans.csv', header = true)").fetchone()
        expected, = rows.execute("SELECT sum(to_ms - from_ms) FROM spans").fetchone()
        assert spent == expected, (spent, expected)

        coarse = geojson.loads(export("geojson", "coarse.geojson", "--coarse-positions").read_text())
        kinds = {f["properties"]["what"] for f in coarse["features"]}
        assert kinds == {"boat", "bite"}, kinds
        for number in re.findall(r"-?\d+\.\d+", str([f["geometry"] for f in coarse["features"]])):
            assert near(10 * float(number), round(10 * float(number)), 1e-9), number
        without = export("csv", "without", "--without-positions")
        for file in without.iterdir():
            found = engine.execute(f"SELECT * FROM read_csv('{file}', header = true)")
            places = [i for i, c in enumerate(found.description) if "latitude" in c[0] or "longitude" in c[0]]
            assert all(row[i] is None for row in found.fetchall() for i in places), file
        nowhere = geojson.loads(export("geojson", "no.geojson", "--without-positions").read_text())
        assert [f["geometry"] for f in nowhere["features"]] == [None]
        export("gpx", "no.gpx", "--without-positions", status=65)
    print("exports are what SQLite reads")
    return 0


if __name__ == "__main__":
    sys.exit(main())
