// Drawings of the day page: the timeline in rows, the track, the reliability of chances.

import { n, note, path, sheet, svg } from "./svg.js";
import { length, percent } from "./parts.js";
import { dayWords } from "./day_words.js";

const MINUTES = [5, 10, 15, 30, 60, 120, 240];
const MOST_ROWS = 10;
const LEFT = 56;
const LANE = 13;
const ROW = 86;
/** Where each state of the bait stands in its row. */
const LEVEL = { airborne: 0, skipping: 1, dragging: 2 };

/** Rows of whole minutes, hours, ... that hold the day; without those in which nothing was seen. */
function rows(timeline, shiftMs) {
  const { stretches } = timeline;
  const [from, to] = [Date.parse(stretches[0].from), Date.parse(stretches[stretches.length - 1].to)];
  const minutes = MINUTES.find((m) => (to - from) / (m * 60000) <= MOST_ROWS - 1) ?? 240;
  const span = minutes * 60000;
  const first = Math.floor((from + shiftMs) / span) * span - shiftMs;
  const all = [];
  for (let begin = first; begin < to; begin += span) {
    if (stretches.some((part) => Date.parse(part.from) < begin + span && Date.parse(part.to) > begin)) {
      all.push({ begin, end: begin + span });
    }
  }
  return all;
}

/** What happened, a row for each hour or so. `clock` says times, which stand `shiftMs` ahead of UTC. */
export function drawTimeline(place, { figures, timeline }, clock, shiftMs) {
  const { story } = dayWords;
  if (!timeline.stretches.length) {
    place.textContent = story.none;
    return;
  }
  const all = rows(timeline, shiftMs);
  const { drawing, width } = sheet(place, all.length * ROW, story.describe(clock(figures.from), clock(figures.to)));
  const hatch = `url(#hatch-${place.id})`;
  const add = (tag, attributes) => drawing.append(svg(tag, attributes));
  all.forEach(({ begin, end }, i) => {
    const y = i * ROW;
    const lane = y + 24;
    const x = (ms) => LEFT + ((Math.min(end, Math.max(begin, ms)) - begin) / (end - begin)) * (width - LEFT - 2);
    const within = (from, to) => from < end && to > begin;
    const box = (from, to, top, height, attributes) => {
      if (within(from, to)) {
        add("rect", { x: n(x(from)), y: n(top), width: n(Math.max(1.5, x(to) - x(from))), height, ...attributes });
      }
    };
    drawing.append(svg("text", { x: 0, y: lane + 25, class: "flag" }, clock(begin)));
    add("path", { d: `M${LEFT} ${lane + 1.5 * LANE}H${width - 2}`, class: "level" });
    for (const part of timeline.stretches) {
      const [from, to] = [Date.parse(part.from), Date.parse(part.to)];
      if (part.doing === "fishing" && part.bait) {
        box(from, to, lane + LEVEL[part.bait] * LANE, LANE, { class: part.bait });
      } else {
        box(from, to, lane, 3 * LANE, { fill: hatch });
      }
    }
    for (const advisory of timeline.advisories) {
      const from = Date.parse(advisory.raised_at);
      const to = Math.max(from + 1, Date.parse(advisory.ended_at ?? figures.to));
      box(from, to, y + 14, 7, { class: advisory.outcome === "happened" ? "came" : "not-came" });
    }
    for (const turn of timeline.made_turns) {
      const [from, to] = [Date.parse(turn.from), Date.parse(turn.to)];
      box(from, to, lane + 3 * LANE + 3, 5, { class: "turned" });
      if (within(from, from + 1)) {
        note(drawing, x(from), lane + 3 * LANE + 20, turn.by_deg < 0 ? "◀" : "▶");
      }
    }
    figures.bites.forEach((bite, number) => {
      const at = Date.parse(bite.at);
      if (within(at, at + 1)) {
        add("path", { d: `M${n(x(at))} ${y + 13}V${lane + 3 * LANE}`, class: "bitten" });
        note(drawing, Math.min(width - 12, Math.max(LEFT + 12, x(at))), y + 12, story.bite(number + 1), "flag", "middle");
      }
    });
  });
  place.replaceChildren(drawing);
}

const EARTH_M = 6371008.8;
const HEIGHT = 340;
const MILE_M = 1852;
const BARS_M = [20, 50, 100, 200, 500, ...[1, 2, 5, 10, 20, 50].map((miles) => miles * MILE_M)];

/** Tracks of boat and bait with numbered spots on them, north up. `spots` are {latitude_deg, longitude_deg, text}. */
export function drawTrack(place, track, spots) {
  const { map } = dayWords;
  if (!track.length) {
    place.textContent = map.none;
    return;
  }
  const middle = track[Math.floor(track.length / 2)];
  const radians = Math.PI / 180;
  const metres = (latitude, longitude) => {
    // The short way round, also over the date line.
    const east = ((longitude - middle.longitude_deg + 540) % 360) - 180;
    return [east * radians * EARTH_M * Math.cos(middle.latitude_deg * radians), (latitude - middle.latitude_deg) * radians * EARTH_M];
  };
  const boat = track.map((point) => metres(point.latitude_deg, point.longitude_deg));
  const bait = track.filter((point) => point.bait_latitude_deg !== null)
    .map((point) => metres(point.bait_latitude_deg, point.bait_longitude_deg));
  const marked = spots.map((spot) => metres(spot.latitude_deg, spot.longitude_deg));
  const all = [...boat, ...bait, ...marked];
  const extent = (axis) => all.reduce(([low, high], point) => [Math.min(low, point[axis]), Math.max(high, point[axis])], [Infinity, -Infinity]);
  const [[west, east], [south, north]] = [extent(0), extent(1)];
  const [wide, high] = [Math.max(50, east - west), Math.max(50, north - south)];
  const { drawing, width } = sheet(place, HEIGHT, map.describe(far(wide)));
  const scale = Math.min((width - 48) / wide, (HEIGHT - 84) / high);
  const at = ([e, s]) => [width / 2 + (e - (west + east) / 2) * scale, 24 + (HEIGHT - 84) / 2 - (s - (south + north) / 2) * scale];
  const add = (tag, attributes) => drawing.append(svg(tag, attributes));
  const places = boat.map(at);
  add("path", { d: path(thinned(places)), class: "boat-track" });
  if (bait.length > 1) {
    add("path", { d: path(thinned(bait.map(at))), class: "bait-track" });
  }
  marked.map(at).forEach(([x, y], i) => {
    add("circle", { cx: n(x), cy: n(y), r: 7, class: "bait" });
    note(drawing, x + 10, y + 5, spots[i].text, "flag");
  });
  for (const [[x, y], text] of [[places[0], map.begin], [places[places.length - 1], map.end]]) {
    add("path", { d: `M${n(x - 6)} ${n(y)}h12M${n(x)} ${n(y - 6)}v12`, class: "tick" });
    note(drawing, x > width / 2 ? x - 10 : x + 10, y + 5, text, "note", x > width / 2 ? "end" : "start");
  }
  note(drawing, width - 4, 14, map.north, "flag", "end");
  const bar = BARS_M.filter((m) => m * scale <= width * 0.5).pop() ?? BARS_M[0];
  add("path", { d: `M4 ${HEIGHT - 12}h${n(bar * scale)}m0 -5v10m${n(-bar * scale)} 0v-10`, class: "tick" });
  note(drawing, 12 + bar * scale, HEIGHT - 7, far(bar));
  place.replaceChildren(drawing);
}

/** A distance as people say it: metres or feet, or sea miles. */
const far = (m) => (m < MILE_M ? length(m) : `${Number((m / MILE_M).toFixed(1))}\u00a0nm`);

/** Without points that nobody could tell apart. */
function thinned(points) {
  const kept = [points[0]];
  for (const point of points) {
    const last = kept[kept.length - 1];
    if (Math.hypot(point[0] - last[0], point[1] - last[1]) >= 1) {
      kept.push(point);
    }
  }
  return kept.length > 1 ? kept : [points[0], points[points.length - 1]];
}

const SIDE = 240;

/** Chances given against how often the trouble came. */
export function drawReliability(place, bins) {
  const { advice } = dayWords;
  const points = bins.filter((bin) => !bin.thin)
    .map((bin) => advice.point(percent(bin.mean_chance), percent(bin.observed), bin.samples));
  place.id ||= "reliability";
  const { drawing } = sheet(place, SIDE + 46, advice.describe(points.join("; ")));
  const [left, top] = [52, 12];
  const x = (share) => left + share * SIDE;
  const y = (share) => top + (1 - share) * (SIDE - 24);
  const add = (tag, attributes) => drawing.append(svg(tag, attributes));
  add("path", { d: `M${left} ${top}V${n(y(0))}H${x(1)}`, class: "tick" });
  add("path", { d: path([[x(0), y(0)], [x(1), y(1)]]), class: "level" });
  for (const share of [0, 0.5, 1]) {
    note(drawing, x(share), y(0) + 18, `${percent(share)} %`, "note", share === 1 ? "end" : "middle");
    note(drawing, left - 6, y(share) + 5, `${percent(share)} %`, "note", "end");
  }
  for (const bin of bins) {
    add("circle", { cx: n(x(bin.mean_chance)), cy: n(y(bin.observed)), r: 7, class: bin.thin ? "thin" : "judged" });
  }
  note(drawing, x(0.5), y(0) + 40, advice.said, "caption", "middle");
  note(drawing, left + 8, top + 8, advice.came, "caption");
  place.replaceChildren(drawing);
}
