"""Plots as SVG, drawn by hand: a few points, straight axes from zero."""

from pathlib import Path
from xml.sax.saxutils import escape

WIDE, HIGH = 480, 260
LEFT, RIGHT, TOP, BOTTOM = 62, 14, 34, 44
COLOURS = ["#0b5cad", "#c2410c", "#15803d", "#7c3aed"]


def nice(most):
    """A round number of at least `most`."""
    size = 1.0
    while size < most:
        size *= 10
    while most <= size / 10:
        size /= 10
    return next(size * part for part in (0.1, 0.2, 0.25, 0.5, 1.0) if size * part >= most)


def plot(path, title, x_name, y_name, series):
    """Draws {name: [(x, y), ...]}."""
    points = [point for way in series.values() for point in way]
    if not points:
        return
    x_most, y_most = nice(max(x for x, _ in points)), nice(max(y for _, y in points) * 1.05)

    def place(x, y):
        return (
            LEFT + (WIDE - LEFT - RIGHT) * x / x_most,
            HIGH - BOTTOM - (HIGH - TOP - BOTTOM) * y / y_most,
        )

    def text(x, y, words, anchor="middle", more=""):
        return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {more}>{escape(words)}</text>'

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {HIGH}" '
        f'font-family="sans-serif" font-size="11" fill="#222">',
        f'<rect width="{WIDE}" height="{HIGH}" fill="#fff"/>',
        text(LEFT, 16, title, "start", 'font-size="13"'),
        text((LEFT + WIDE - RIGHT) / 2, HIGH - 8, x_name),
        text(14, (TOP + HIGH - BOTTOM) / 2, y_name, "middle",
             f'transform="rotate(-90 14 {(TOP + HIGH - BOTTOM) / 2})"'),
    ]
    for part in range(5):
        (x, zero), (_, y) = place(x_most * part / 4, 0), place(0, y_most * part / 4)
        out.append(f'<path d="M{LEFT} {y:.1f}H{WIDE - RIGHT}" stroke="#ddd"/>')
        out.append(text(LEFT - 6, y + 4, f"{y_most * part / 4:g}", "end"))
        out.append(text(x, zero + 16, f"{x_most * part / 4:g}"))
    for number, (name, way) in enumerate(series.items()):
        colour = COLOURS[number % len(COLOURS)]
        spots = [place(x, y) for x, y in way]
        line = "L".join(f"{x:.1f} {y:.1f}" for x, y in spots)
        out.append(f'<path d="M{line}" fill="none" stroke="{colour}" stroke-width="1.5"/>')
        if len(spots) <= 20:
            out += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{colour}"/>' for x, y in spots]
        if len(series) > 1:
            out.append(text(WIDE - RIGHT, TOP + 12 * number, name, "end", f'fill="{colour}"'))
    Path(path).write_text("\n".join([*out, "</svg>"]) + "\n")
