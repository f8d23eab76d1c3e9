"""Line shape and moving line beside general-purpose mooring libraries, at equal accuracy."""

import contextlib
import io
import json
import os
import pathlib
import tempfile
import time

import moordyn
import numpy as np
from moorpy.Catenary import catenary

# The case and its model file; one owner for both.
import compute

# From here on the library's own answer no longer changes: segments, internal step, coupling step.
FINEST = (60, 2.5e-5, 0.01)
# Coarser ways, cheapest first.
COARSER = [
    (2, 4e-4, 0.1), (3, 4e-4, 0.1), (4, 4e-4, 0.1), (5, 4e-4, 0.1), (8, 2e-4, 0.05),
    (10, 2e-4, 0.05), (15, 1e-4, 0.02), (30, 1e-4, 0.02),
]


def model(clip, segments, inner_s):
    return compute.model(clip, segments).replace("1.0e-4 dtM", f"{inner_s} dtM")


@contextlib.contextmanager
def silent():
    """The library writes to the standard output behind Python's back."""
    kept = os.dup(1)
    with open(os.devnull, "w") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        try:
            yield
        finally:
            os.dup2(kept, 1)
            os.close(kept)


def swing(segments, inner_s, step_s):
    """Places of the bait below the clip every second of the case, and the seconds of processor time
    that the 60 s took without the settling before them."""
    path = np.array(json.loads((compute.HERE / "clip_path.json").read_text()))
    path[:, 3] += compute.DOWN
    knot_s = path[1, 0] - path[0, 0]
    velocity = (path[1, 1:] - path[0, 1:]) / knot_s
    settling_s = 60.0

    def place(t):
        if t <= 0:
            return path[0, 1:] + velocity * t
        return np.array([np.interp(t, path[:, 0], path[:, k]) for k in (1, 2, 3)])

    # Worked out before, so that only the library is measured.
    times = np.arange(-settling_s, path[-1, 0] - 1e-9, step_s)
    places = [place(t) for t in [*times, times[-1] + step_s]]
    with silent(), tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "hang.txt"
        file.write_text(model(places[0], segments, inner_s))
        system = moordyn.Create(str(file))
        moordyn.Init(system, list(places[0]), list(velocity))
        bait = moordyn.GetPoint(system, 3)
        rows, began = [], None
        for i, t in enumerate(times):
            if began is None and t > -1e-9:
                began = time.process_time()
            v = (places[i + 1] - places[i]) / step_s
            moordyn.Step(system, list(places[i]), list(v), float(t), step_s)
            then = t + step_s
            if then > -1e-6 and abs(then - round(then)) < 1e-6:
                rows.append(np.array(moordyn.GetPointPos(bait)) - places[i + 1])
        took = time.process_time() - began
        moordyn.Close(system)
    return np.array(rows), took


def furthest_m(rows, others):
    """Largest distance between two ways of the bait."""
    count = min(len(rows), len(others))
    apart = np.linalg.norm(np.array(rows[:count]) - np.array(others[:count]), axis=1)
    return float(apart.max())


def moving(ours):
    """The cheapest way of the library that is as accurate as ours, each against its finest."""
    finest, _ = swing(*FINEST)
    our_error = furthest_m(ours, finest)
    tried = []
    for way in COARSER:
        try:
            rows, took = swing(*way)
        except Exception as error:  # noqa: BLE001: an unstable step ends in many ways
            tried.append({"way": way, "error_m": None, "why": str(error)})
            continue
        error = furthest_m(rows, finest)
        tried.append({"way": way, "error_m": round(error, 4), "s": took})
    good = [t for t in tried if t["error_m"] is not None and t["error_m"] <= our_error]
    best = min(good, key=lambda t: t["s"]) if good else None
    return {"our_error_m": round(our_error, 4), "tried": tried, "best": best}


def settled(repeats):
    """Seconds for the three weight-only lines of a rig at the loosest tolerance that gives tensions
    to 1e-3 (ours are within that of closed forms)."""
    spans = [(60.0, 45.0, 80.0, 0.0030), (30.0, 80.0, 87.0, 0.0045), (120.0, 10.0, 140.0, 0.0045)]

    def solve(tolerance):
        with contextlib.redirect_stdout(io.StringIO()):
            return [
                catenary(span, rise, length, 1e9, weight, CB=-1e5, Tol=tolerance)[0]
                for span, rise, length, weight in spans
            ]

    exact = np.array(solve(1e-10))
    tolerance = 1e-10
    for looser in [1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-8]:
        if np.all(np.abs(np.array(solve(looser)) / exact - 1) < 1e-3):
            tolerance = looser
            break
    took = []
    for _ in range(repeats):
        begun = time.process_time()
        for _ in range(20):
            solve(tolerance)
        took.append((time.process_time() - begun) / 20)
    took.sort()
    return {"s": took[len(took) // 2], "tolerance": tolerance}
