"""Computes hang.json and catenary.json next to this file; see README.md."""

import json
import pathlib
import tempfile

import moordyn
import numpy as np
from moorpy.Catenary import catenary

HERE = pathlib.Path(__file__).parent
RHO, G = 1.225, 9.81
# The rig of tests/checks/rig_mooring.rs.
LINE_D, LINE_M = 0.0008, 0.00045
MARKER_CDA, MARKER_M = 0.47 * np.pi / 4 * 0.25**2, 0.006
BAIT_CDA, BAIT_M = 0.004, 0.34
STOP_M, LEADER_M = 0.3, 30.0
# Everything far below the library's water surface, so that the fluid is everywhere.
DOWN = -1500.0
# Our lines have no buoyancy in air; the library's do, so they get that much more mass.
LINE_M_IN_AIR = LINE_M + RHO * np.pi / 4 * LINE_D**2


def model(clip, segments):
    return f"""---------- MoorDyn Input File ----------
One hanging leg in air
---- LINE TYPES ----
Name Diam MassDen EA BA/-zeta EI Cd Ca CdAx CaAx
(-) (m) (kg/m) (N) (-) (-) (-) (-) (-) (-)
main {LINE_D} {LINE_M_IN_AIR} 1.0e4 -0.3 0 1.1 0 0 0
---- POINTS ----
ID Type X Y Z M V CdA CA
(#) (-) (m) (m) (m) (kg) (m^3) (m^2) (-)
1 Coupled {clip[0]} {clip[1]} {clip[2]} 0 0 0 0
2 Free {clip[0]} {clip[1]} {clip[2] - STOP_M} {MARKER_M} 0 {MARKER_CDA} 0
3 Free {clip[0]} {clip[1]} {clip[2] - STOP_M - LEADER_M} {BAIT_M} 0 {BAIT_CDA} 0
---- LINES ----
ID LineType AttachA AttachB UnstrLen NumSegs Outputs
(#) (-) (-) (-) (m) (-) (-)
1 main 1 2 {STOP_M} 1 -
2 main 2 3 {LEADER_M} {segments} -
---- OPTIONS ----
{G} g
{RHO} WtrDnsty
3000 WtrDpth
1.0e-4 dtM
1.0e-9 TmaxIC
---- OUTPUTS ----
FairTen1
---- need this line ----
"""


def run(segments):
    path = np.array(json.loads((HERE / "clip_path.json").read_text()))
    path[:, 3] += DOWN
    step = path[1, 0] - path[0, 0]
    # The path begins settled: run in at its first velocity until the swing has died away.
    velocity = (path[1, 1:] - path[0, 1:]) / step
    run_in = 60.0
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "hang.txt"
        file.write_text(model(path[0, 1:] - velocity * run_in, segments))
        system = moordyn.Create(str(file))
        x = path[0, 1:] - velocity * run_in
        moordyn.Init(system, list(x), list(velocity))
        bait = moordyn.GetPoint(system, 3)
        line = moordyn.GetLine(system, 2)
        t, dt = -run_in, 0.02
        rows = []
        knots = path[:, 0]

        def place(time):
            if time <= 0:
                return path[0, 1:] + velocity * time
            return np.array([cubic(time, path[:, k]) for k in (1, 2, 3)])

        def cubic(time, values):
            i = min(max(int(time / step), 1), len(values) - 3)
            s = (time - knots[i]) / step
            a, b, c, d = values[i - 1 : i + 3]
            return b + 0.5 * s * (
                c - a + s * (2 * a - 5 * b + 4 * c - d + s * (3 * (b - c) + d - a))
            )

        while t < path[-1, 0] - 1e-9:
            here, there = place(t), place(t + dt)
            v = (there - here) / dt
            moordyn.Step(system, list(here), list(v), t, dt)
            t += dt
            if t > -1e-6 and abs(t - round(t)) < 1e-6:
                position = np.array(moordyn.GetPointPos(bait))
                tension = np.linalg.norm(moordyn.GetLineNodeTen(line, segments))
                relative = position - place(round(t))
                rows.append([round(t), *np.round(relative, 4).tolist(), round(tension, 4)])
        moordyn.Close(system)
    return rows


def main():
    coarse, fine = run(15), run(30)
    spread = max(
        np.linalg.norm(np.array(a[1:4]) - np.array(b[1:4])) for a, b in zip(coarse, fine)
    )
    note = {
        "library": f"moordyn {moordyn.__version__ if hasattr(moordyn, '__version__') else '2.7.2'}",
        "segments": 30,
        "largest_change_from_15_segments_m": round(float(spread), 4),
        "columns": ["t_s", "east_m", "north_m", "up_m", "tension_at_bait_n"],
        "rows": fine,
    }
    (HERE / "hang.json").write_text(json.dumps(note, indent=0) + "\n")
    cases = []
    # CB below zero: no sea bed under the line.
    for span, rise, length, weight in [
        (120.0, 0.0, 140.0, 29.43),
        (60.0, 45.0, 80.0, 0.0045),
        (30.0, 80.0, 87.0, 0.0030),
    ]:
        fx, fz_a, _, fz_b, _ = catenary(span, rise, length, 1e9, weight, CB=-1e5)[:5]
        cases.append(
            {
                "span_m": span,
                "rise_m": rise,
                "length_m": length,
                "weight_n_per_m": weight,
                "lower_n": float(np.hypot(fx, fz_a)),
                "upper_n": float(np.hypot(fx, fz_b)),
            }
        )
    out = {"library": "MoorPy 1.3.0", "cases": cases}
    (HERE / "catenary.json").write_text(json.dumps(out, indent=1) + "\n")
    print("spread between 15 and 30 segments:", spread)


if __name__ == "__main__":
    main()
