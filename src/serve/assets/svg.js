// What drawings are made of: SVG elements, a sheet, texts that lie on no other.

const SVG = "http://www.w3.org/2000/svg";

export function svg(tag, attributes, text) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes ?? {})) {
    element.setAttribute(name, value);
  }
  if (text !== undefined) {
    element.textContent = text;
  }
  return element;
}

/** A coordinate as drawn. */
export const n = (x) => x.toFixed(1);
export const path = (points, close) => `M${points.map(([x, y]) => `${n(x)} ${n(y)}`).join("L")}${close ? "Z" : ""}`;

/** An empty drawing as wide as its place. */
export function sheet(place, height, label) {
  const width = Math.max(240, place.clientWidth || 358);
  const drawing = svg("svg", { viewBox: `0 0 ${width} ${height}`, width: "100%", role: "img", "aria-label": label });
  const hatch = svg("pattern", { id: `hatch-${place.id}`, width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" });
  hatch.append(svg("rect", { width: 2.5, height: 7, class: "hatch" }));
  const defs = svg("defs");
  defs.append(hatch);
  drawing.append(defs);
  return { drawing, width };
}

const LETTER = { note: 8.6, caption: 9, flag: 10.2 };
const LINE = 18;
/** Places that texts of a drawing take. */
const taken = new WeakMap();

/** Text that lies on no other: moved down or up by a line or two, or left out. */
export function note(drawing, x, y, text, kind = "note", anchor = "start") {
  const width = text.length * LETTER[kind];
  const left = x - { start: 0, middle: 0.5, end: 1 }[anchor] * width;
  const boxes = taken.get(drawing) ?? [];
  const free = (top) => !boxes.some(([l, t, r]) => left < r && left + width > l && Math.abs(t - top) < LINE);
  const at = [0, LINE, -LINE, 2 * LINE, -2 * LINE].map((by) => y + by).find((place) => place > 10 && free(place));
  if (at === undefined) {
    return;
  }
  taken.set(drawing, [...boxes, [left, at, left + width]]);
  drawing.append(svg("text", { x: n(x), y: n(at), class: kind, "text-anchor": anchor }, text));
}
