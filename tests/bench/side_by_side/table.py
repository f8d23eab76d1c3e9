"""The table and the plots out of the figures."""

import plots

FORECAST = "forecast/new turn intent: all futures, plan search, fan, limits"


def number(value, digits=3):
    """A figure with so many significant digits."""
    if value is None:
        return "-"
    if value == 0:
        return "0"
    return f"{value:.{digits}g}" if abs(value) < 1000 else f"{value:,.0f}"


def yes(held):
    return "yes" if held else "**no**"


def rows_of_parsers(r):
    ours, bare, python = r["ours_s"], r["bare_s"], r["python_s"]
    lines = r["lines"]
    return [
        [f"framing and decoding, {lines:,} lines", f"{number(1e6 * ours)} µs a line",
         f"pynmea2 {number(1e6 * python)} µs", f"{number(python / ours)} x faster", "20 x",
         yes(python / ours >= 20)],
        ["the same", f"{number(1e6 * ours)} µs a line", f"bare `nmea` crate, lines given: "
         f"{number(1e6 * bare)} µs", f"{number(bare / ours)} x its speed", "1 x",
         yes(bare >= ours)],
    ]


def rows_of_lines(r):
    moving = r["moving"]
    rows = []
    best = moving["best"]
    what = (f"moving line, 60 s, within {moving['our_error_m']} m of moordyn with 30 segments (which "
            f"is right to {moving['reference_error_m']} m)")
    ours = f"{number(1e3 * r['our_swing_s'])} ms for the whole rig"
    if best:
        ratio = best["s"] / r["our_swing_s"]
        way = f"{best['way'][0]} segments, {best['error_m']} m"
        rows.append([what, ours, f"moordyn, hanging leg alone ({way}): {number(1e3 * best['s'])} ms",
                     f"{number(ratio)} x faster", "50 x", yes(ratio >= 50)])
    else:
        rows.append([what, ours, "moordyn: no way tried is as accurate", "-", "50 x", "-"])
    for name, what in [
        ("settled", "three lines by weight alone, their ends given, tensions to 1e-3"),
        ("balanced", "rig by weight alone, the kite's force given, clip to 1 cm"),
    ]:
        theirs = r[name]
        ratio = theirs["s"] / r["our_steady_s"]
        rows.append(["rig at rest", f"{number(1e6 * r['our_steady_s'])} µs with trim, kite and wind on "
                     "the lines", f"MoorPy, {what} (tolerance {theirs['tolerance']:g}): "
                     f"{number(1e3 * theirs['s'])} ms", f"{number(ratio)} x faster", "50 x",
                     yes(ratio >= 50)])
    return rows


def table(head, rows):
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return "\n".join(lines + ["| " + " | ".join(map(str, row)) + " |" for row in rows])


def stamp(r):
    quick = ", quick" if r.get("quick") else ""
    return f"Measured {r['date']}{quick}."


def beside(results):
    rows, stamps = [], []
    for name, rows_of in [("parsers", rows_of_parsers), ("lines", rows_of_lines)]:
        if name in results:
            rows += rows_of(results[name])
            stamps.append(stamp(results[name]))
    if not rows:
        return ""
    head = ["what", "skimwatch", "beside it", "ratio", "wanted", "held"]
    return "## Beside others\n\n" + sorted(stamps)[0] + "\n\n" + table(head, rows) + "\n"


def daemon(results, folder):
    r = results.get("daemon")
    if not r:
        return ""
    rows = []
    for run in r["runs"]:
        lost = run["sent"] - run["engine"], run["sent"] - run["phones_least"]
        rows.append([
            run["rate"], run["phones"], " / ".join(map(number, run["ms"])),
            " / ".join(map(number, run["beyond_ms"])), f"{run['sent']:,}",
            f"{lost[0]} / {lost[1]}", f"{run['missed_most']} of {run['pictures']}",
            number(run["cores"]), run["resident_mib"],
        ])
    phones = sorted({run["phones"] for run in r["runs"]})
    plots.plot(
        folder / "phones.svg", "Sentence to picture beyond the forecast, 99 %", "phones", "ms",
        {f"{rate}/s": [(p, run["beyond_ms"][1]) for p in phones for run in r["runs"]
                       if run["rate"] == rate and run["phones"] == p]
         for rate in sorted({run["rate"] for run in r["runs"]})},
    )
    head = ["sentences a second", "phones", "in to out, ms: p50 / p99 / most",
            "of it beyond the forecast, ms", "sent", "lost at the engine / at a phone",
            "pictures that a phone skipped, most", "cores", "MiB"]
    return (
        "## The whole daemon\n\n" + stamp(r) + " A turn-rich day over UDP; the phones are played on "
        "the same machine, so the times are upper bounds. \"Beyond the forecast\" leaves out the wait "
        "for a forecast that is being made and the one made for the picture. A phone is shown the "
        "newest picture and may skip some by design.\n\n" + table(head, rows)
        + "\n\n![by phones](phones.svg)\n"
    )


def processor(results, folder):
    r = results.get("processor")
    if not r:
        return ""
    rows = [[name, run["rate"], run["feeds"], f"{100 * run['core']:.1f} %", run["resident_mib"],
             number(run["first_forecast_s"])] for name, run in r["runs"].items()]
    by_feeds = sorted((run["feeds"], 100 * run["core"]) for run in r["runs"].values()
                      if not run["rig"] and run["rate"] == 30)
    plots.plot(folder / "feeds.svg", "No rig out, 30 sentences a second in all", "feeds",
               "% of a core", {"": by_feeds})
    head = ["day", "sentences a second", "feeds", "share of a core", "MiB",
            "start to first forecast, s"]
    return ("## Processor and start\n\n" + stamp(r) + "\n\n" + table(head, rows)
            + "\n\n![by feeds](feeds.svg)\n")


def forecast(results, folder):
    r = results.get("forecast")
    if not r:
        return ""
    times = r["times_s"]
    rows = [["new turn intent, everything, one core", f"{number(1e3 * times[FORECAST])} ms"]]
    for part, x_name in [("futures", "futures"), ("horizon_s", "horizon, s"), ("threads", "threads")]:
        points = sorted(
            (float(name.rpartition("/")[2]), 1e3 * seconds)
            for name, seconds in times.items() if name.startswith(f"forecast/{part}/")
        )
        rows += [[f"{x_name}: {x:g}", f"{number(ms)} ms"] for x, ms in points]
        plots.plot(folder / f"forecast_{part}.svg", f"One forecast by {part}", x_name, "ms",
                   {"": points})
    images = " ".join(f"![by {p}](forecast_{p}.svg)" for p in ("futures", "horizon_s", "threads"))
    return ("## One forecast\n\n" + stamp(r) + "\n\n" + table(["forecast", "time"], rows)
            + f"\n\n{images}\n")


def profile(results):
    r = results.get("profile")
    if not r:
        return ""
    return ("## Where the time goes\n\n" + stamp(r) + " Share of the phases of two invented days on "
            "one core (`cargo bench --bench profile`).\n\n" + r["table"] + "\n")


def memory(results, folder):
    r = results.get("memory")
    if not r:
        return ""
    plots.plot(folder / "memory.svg", f"Resident memory, {r['phones']} phones", "hours replayed", "MiB",
               {"": r["curve"]})
    rows = [["at the start", r["start_mib"]], ["after an hour", r["hour_mib"]],
            [f"after {r['hours']:g} h", r["end_mib"]], ["most", r["most_mib"]],
            [f"40 MiB held after {r['hours']:g} h", yes(r["end_mib"] <= 40)]]
    return ("## Memory\n\n" + stamp(r) + f" A turn-rich day over and over for {r['hours']:g} h, replayed "
            f"{r['speed']:g} times as fast to {r['phones']} phones, with {r['futures_median']} futures "
            "(median) for which there was time.\n\n" + table(["resident", "MiB"], rows)
            + "\n\n![by hours](memory.svg)\n")


def write(results, folder):
    """Writes README.md and the plots."""
    parts = [
        "# Measured beside what others do\n\n"
        "    python3 tests/bench/side_by_side           # about 45 minutes\n"
        "    python3 tests/bench/side_by_side --quick   # some minutes, coarse\n"
        "    python3 tests/bench/side_by_side lines     # one part: "
        "parsers, lines, profile, forecast, daemon, processor, memory\n\n"
        "Needs a Rust toolchain and Python 3.9 or later; the packages it compares with come from PyPI\n"
        "into an environment below `target`. It writes this file and the plots. Every row is measured in\n"
        "one run on one machine; both sides of a ratio one after the other. Parsers take turns, and the least\n"
        "time of each counts.\n\n"
        f"Machine: {results['machine']}.\n",
        beside(results), forecast(results, folder), profile(results), daemon(results, folder),
        processor(results, folder), memory(results, folder),
        # What `cargo bench --bench logbook` has measured is written by hand.
        (folder / "season.md").read_text(),
    ]
    (folder / "README.md").write_text("\n".join(part for part in parts if part))
