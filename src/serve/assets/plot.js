// Boat, bait, the bait's track and the marks, seen from above: no chart.

import { note, path, sheet, svg } from "./svg.js";
import { length } from "./parts.js";
import { markWords } from "./marks_words.js";

const HEIGHT = 330;
const LEAST_M = 120;
const MOST_M = 1200;
const RINGS_M = [25, 50, 100, 200, 500, 1000];
const RADIANS = Math.PI / 180;

/** How far the picture reaches: what is near enough to matter fits. */
function reach(track, marks) {
  const far = (point) => Math.hypot(point.east_m, point.north_m);
  const points = [...(track?.ahead ?? []), ...(track?.past ?? []).slice(-20)];
  const near = marks.map((mark) => mark.from_boat.range_m).filter((range) => range <= MOST_M);
  return Math.min(MOST_M, Math.max(LEAST_M, ...points.map(far), ...near) * 1.1);
}

/** The edge of the band on one side: `across` metres to the right of the way, or to the left. */
function edge(point, across) {
  const way = point.way_deg_true * RADIANS;
  return { east_m: point.east_m + across * Math.cos(way), north_m: point.north_m - across * Math.sin(way) };
}

/** Draws into `place`. @param {HTMLElement} place @param {any} state @param {boolean} bowUp */
export function drawPlot(place, state, bowUp) {
  const { track, vessel } = state;
  const marks = state.marks.filter((mark) => mark.from_boat);
  const metres = reach(track, marks);
  const { drawing, width } = sheet(place, HEIGHT, markWords.plot.describe(length(metres)));
  const size = Math.min(width, HEIGHT) / 2 - 18;
  const [cx, cy] = [width / 2, HEIGHT / 2];
  const heading = vessel.heading_deg_true?.value ?? 0;
  const turned = bowUp ? heading * RADIANS : 0;
  const at = ({ east_m: e, north_m: n }) => [
    cx + ((e * Math.cos(turned) - n * Math.sin(turned)) * size) / metres,
    cy - ((e * Math.sin(turned) + n * Math.cos(turned)) * size) / metres,
  ];
  const add = (tag, attributes) => drawing.append(svg(tag, attributes));
  const ring = RINGS_M.filter((m) => m <= metres * 0.8).pop() ?? RINGS_M[0];
  for (const radius of [ring, metres]) {
    add("circle", { cx, cy, r: (radius * size) / metres, class: "tick ghost", opacity: 0.6 });
  }
  const north = at({ east_m: 0, north_m: metres });
  note(drawing, north[0], north[1] + 5, markWords.plot.n, "flag", "middle");
  note(drawing, cx + ((ring * size) / metres) * 0.72, cy + ((ring * size) / metres) * 0.72, length(ring));

  const { past = [], ahead = [] } = track ?? {};
  if (ahead.length > 1) {
    const right = ahead.map((point) => at(edge(point, point.right_m)));
    const left = ahead.map((point) => at(edge(point, point.left_m)));
    add("path", { d: path([...right, ...left.reverse()], true), class: "band" });
  }
  if (past.length > 1) {
    add("path", { d: path(past.map(at)), class: "mainline ghost" });
  }
  if (ahead.length > 1) {
    add("path", { d: path(ahead.map(at)), class: "middle planned" });
  }
  const angle = heading - turned / RADIANS;
  add("path", { d: "M0 -13L8 11L0 6L-8 11Z", class: "boat", transform: `translate(${cx} ${cy}) rotate(${angle})` });
  const bait = ahead[0] ?? past[past.length - 1];
  if (bait) {
    const [x, y] = at(bait);
    add("circle", { cx: x, cy: y, r: 7, class: "bait" });
    note(drawing, x + 10, y + 5, markWords.plot.bait, "caption");
  }
  for (const mark of marks) {
    const { range_m: far } = mark.from_boat;
    const beyond = far > metres;
    const share = beyond ? metres / far : 1;
    const [x, y] = at({ east_m: mark.from_boat.east_m * share, north_m: mark.from_boat.north_m * share });
    if (!beyond) {
      add("circle", { cx: x, cy: y, r: Math.max(9, (mark.sigma_m * size) / metres), class: "tick ghost" });
    }
    add("path", { d: `M${x - 8} ${y}h16M${x} ${y - 8}v16`, class: "stepline" });
    const name = beyond ? `${markWords.name(mark)} ${length(far)}` : markWords.name(mark);
    const onRight = x > width / 2;
    note(drawing, x + (onRight ? -12 : 12), y - 6, name, "caption", onRight ? "end" : "start");
  }
  place.replaceChildren(drawing);
}
