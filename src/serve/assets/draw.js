// Drawings, all SVG and all from the model: the bait's next two minutes, the rig from the side
// and from above, the strip of headings.

import { fromMetres, length, lengthUnit } from "./parts.js";
import { n, note, path, sheet, svg } from "./svg.js";
import { words } from "./words.js";

const HIGH_MAX_M = 12;

/** Bait height over the next two minutes: band against the water line, orders and turn marked. */
export function drawHeight(place, forecast, sinceMade, orders) {
  const top = 52;
  const height = 250;
  const bottom = height - 30;
  const bands = forecast.bait_height_m;
  const planned = forecast.bait_height_with_plan_m;
  const all = bands.concat(planned);
  const highest = Math.max(3, ...all.map((band) => band.p90));
  const lowest = Math.min(-2, ...all.map((band) => band.p10));
  // What counts happens near the water: what goes beyond is cut off and marked with a "+".
  const high = Math.min(highest, HIGH_MAX_M);
  const low = Math.max(Math.min(lowest, -0.3 * high), -HIGH_MAX_M / 2);
  const label = words.chart.describe(length(lowest), length(highest));
  const { drawing, width } = sheet(place, height, label);
  const left = 44;
  const right = width - 8;
  const x = (t) => left + ((t - sinceMade) / (forecast.horizon_s - sinceMade)) * (right - left);
  const y = (h) => top + ((high - Math.min(high, Math.max(low, h))) / (high - low)) * (bottom - top);
  const ahead = (list) => list.map((band, i) => [forecast.t_s[i], band]).filter(([t]) => t >= sinceMade - 2.5);
  const area = (list) => path([
    ...list.map(([t, band]) => [Math.max(left, x(t)), y(band.p90)]),
    ...list.slice().reverse().map(([t, band]) => [Math.max(left, x(t)), y(band.p10)]),
  ], true);
  const middle = (list) => path(list.map(([t, band]) => [Math.max(left, x(t)), y(band.p50)]));

  drawing.append(svg("rect", { x: left, y: n(y(0)), width: right - left, height: n(bottom - y(0)), class: "water" }));
  const bandsAhead = ahead(bands);
  drawing.append(svg("path", { d: area(bandsAhead), class: "band" }));
  const plannedAhead = ahead(planned);
  if (plannedAhead.length > 1) {
    drawing.append(svg("path", { d: area(plannedAhead), class: "band planned", fill: `url(#hatch-${place.id})` }));
  }
  drawing.append(svg("path", { d: `M${left} ${n(y(0))}H${right}`, class: "waterline" }));
  drawing.append(svg("path", { d: middle(bandsAhead), class: "middle" }));
  if (plannedAhead.length > 1) {
    drawing.append(svg("path", { d: middle(plannedAhead), class: "middle planned" }));
  }
  for (const level of [high, 0, low]) {
    note(drawing, left - 5, Math.min(bottom, y(level) + 5),
      `${Math.round(fromMetres(level))}${level === high && highest > high ? "+" : ""}`, "note", "end");
  }
  note(drawing, 2, 16, lengthUnit());
  note(drawing, right - 4, y(0) - 5, words.chart.air, "note", "end");
  note(drawing, right - 4, Math.min(bottom - 3, y(0) + 17), words.chart.water, "note", "end");
  for (const t of [0, 30, 60, 90]) {
    const at = x(sinceMade + t);
    drawing.append(svg("path", { d: `M${n(at)} ${bottom}v5`, class: "tick" }));
    note(drawing, at, height - 8, t ? words.chart.seconds(t) : words.chart.now, "note", t ? "middle" : "start");
  }
  // Flags: corrections in the first row, the turn in the second; one that would lie on the
  // flag before it is only a mark.
  let free = left;
  for (const step of orders) {
    const at = Math.max(left, x(step.start_in_s));
    if (step.start_in_s + step.over_s < sinceMade) {
      continue;
    }
    const end = Math.max(at + 3, x(step.start_in_s + step.over_s));
    drawing.append(svg("rect", { x: n(at), y: top, width: n(end - at), height: n(bottom - top), class: "step" }));
    drawing.append(svg("path", { d: `M${n(at)} 22V${bottom}`, class: "stepline" }));
    const text = `${step.by_m > 0 ? words.letOut : words.windIn} ${length(Math.abs(step.by_m))}`;
    const wide = text.length * 10.5;
    const from = Math.min(at + 4, right - wide);
    if (from >= free) {
      note(drawing, from, 18, text, "flag");
      free = from + wide;
    }
  }
  const turn = forecast.turn;
  if (turn && turn.starts_in_s >= sinceMade) {
    const at = x(turn.starts_in_s);
    drawing.append(svg("path", { d: `M${n(at)} 40V${bottom}`, class: "turnline" }));
    const beyond = at > right - 90;
    note(drawing, beyond ? at - 4 : at + 4, 42, `${turn.by_deg < 0 ? "◀" : "▶"} ${words.chart.turn} ${Math.round(Math.abs(turn.by_deg))}°`, "flag", beyond ? "end" : "start");
  }
  place.replaceChildren(drawing);
}

const last = (list) => list[list.length - 1];
const flat = (view) => [...view.kite_line, ...view.main_line];

/** The rig from the side and from above on one scale, boat to the left; foreseen state dashed. */
export function drawRig(place, forecast, biteZone) {
  const views = [forecast.rig_now, forecast.rig_then].filter((view) => view.kite_line.length && view.main_line.length);
  if (!views.length) {
    place.textContent = words.chart.none;
    return;
  }
  const points = views.flatMap(flat);
  const aft = Math.max(40, ...points.map((p) => p.aft_m)) + 14;
  const fore = Math.min(-14, ...points.map((p) => p.aft_m));
  const high = Math.max(20, ...points.map((p) => p.up_m)) + 4;
  const deep = Math.min(-3, ...points.map((p) => p.up_m));
  const starboard = Math.max(16, ...points.map((p) => p.starboard_m)) + 8;
  const port = Math.min(-16, ...points.map((p) => p.starboard_m)) - 8;
  const { drawing, width } = sheet(place, 10, words.rigView.title);
  const scale = (width - 12) / (aft - fore);
  const x = (m) => 6 + (m - fore) * scale;
  const sideTop = 24;
  const water = sideTop + high * scale;
  const planTop = water - deep * scale + 40;
  const middle = planTop + starboard * scale;
  const height = middle - port * scale + 30;
  drawing.setAttribute("viewBox", `0 0 ${width} ${n(height)}`);
  const up = (p) => [x(p.aft_m), water - p.up_m * scale];
  const over = (p) => [x(p.aft_m), middle - p.starboard_m * scale];

  drawing.append(svg("rect", { x: 0, y: n(water), width, height: n(-deep * scale), class: "water" }));
  drawing.append(svg("path", { d: `M0 ${n(water)}H${width}`, class: "waterline" }));
  drawing.append(svg("path", { d: path([[x(-12), water - 2 * scale], [x(0), water - 1.5 * scale], [x(0), water + 0.5 * scale], [x(-10), water + 0.5 * scale]], true), class: "boat" }));
  drawing.append(svg("path", { d: path([[x(-12), middle], [x(-8), middle - 1.8 * scale], [x(0), middle - 1.8 * scale], [x(0), middle + 1.8 * scale], [x(-8), middle + 1.8 * scale]], true), class: "boat" }));

  // Bite zone: from the kite rod tip, both sides, off dead astern.
  const zones = [];
  const tip = views[0].kite_line[0];
  if (tip && biteZone) {
    const reach = Math.min(aft - 4, (starboard - 2) / Math.sin((biteZone.to_deg * Math.PI) / 180));
    for (const sign of [1, -1]) {
      const arc = [];
      for (let step = 0; step <= 8; step += 1) {
        const a = ((biteZone.from_deg + ((biteZone.to_deg - biteZone.from_deg) * step) / 8) * Math.PI) / 180;
        const room = sign > 0 ? starboard - 2 : -port - 2;
        const r = Math.min(reach, room / Math.sin(a));
        arc.push([x(tip.aft_m + r * Math.cos(a)), middle - (tip.starboard_m + sign * r * Math.sin(a)) * scale]);
      }
      const [ox, oy] = over(tip);
      drawing.append(svg("path", { d: path([[ox, oy], ...arc], true), class: "bitezone", fill: `url(#hatch-${place.id})` }));
      const [bx, by] = arc[4];
      zones.push([(2 * bx + ox) / 3, (2 * by + oy) / 3]);
    }
  }
  views.forEach((view, i) => {
    const kind = i ? " ghost" : "";
    for (const project of [up, over]) {
      drawing.append(svg("path", { d: path(view.kite_line.map(project)), class: `kiteline${kind}` }));
      drawing.append(svg("path", { d: path(view.main_line.map(project)), class: `mainline${kind}` }));
      const [kx, ky] = project(last(view.kite_line));
      drawing.append(svg("path", { d: path([[kx, ky - 8], [kx + 7, ky], [kx, ky + 8], [kx - 7, ky]], true), class: `kite${kind}` }));
      const [cx, cy] = project(view.clip);
      drawing.append(svg("rect", { x: n(cx - 3), y: n(cy - 3), width: 6, height: 6, class: `clip${kind}` }));
      const [mx, my] = project(view.marker);
      drawing.append(svg("circle", { cx: n(mx), cy: n(my), r: 5, class: `marker${kind}` }));
      const [bx, by] = project(last(view.main_line));
      drawing.append(svg("path", { d: path([[bx - 8, by], [bx + 5, by - 5], [bx + 5, by + 5]], true), class: `bait${kind}` }));
      if (!i) {
        const room = (at) => (at > width - 60 ? [at - 10, "end"] : [at + 11, "start"]);
        const [kt, ka] = room(kx);
        note(drawing, kt, Math.max(14, ky + 5), words.rigView.kite, "note", ka);
        const [bt, ba] = room(bx);
        note(drawing, bt, by - 8, words.rigView.bait, "note", ba);
        if (Math.hypot(mx - bx, my - by) > 18) {
          note(drawing, mx - 9, my + 16, words.rigView.marker, "note", "end");
        }
      }
    }
  });
  // Wind at the kite: blows from this bearing off the bow; drawn as an arrow flying with it.
  const from = (views[0].wind_from_bow_deg * Math.PI) / 180;
  const [dx, dy] = [Math.cos(from), Math.sin(from)];
  // Where the rig is not.
  const inCorner = views.some((view) => flat(view).map(over).some(([px, py]) => px < 190 && py < planTop + 60));
  const [wx, wy] = [inCorner ? width - 30 : 30, planTop + 30];
  const tail = [wx - dx * 20, wy - dy * 20];
  const head = [wx + dx * 20, wy + dy * 20];
  drawing.append(svg("path", { d: path([tail, head]), class: "wind" }));
  drawing.append(svg("path", { d: path([head, [head[0] - dx * 11 - dy * 7, head[1] - dy * 11 + dx * 7], [head[0] - dx * 11 + dy * 7, head[1] - dy * 11 - dx * 7]], true), class: "windhead" }));
  note(drawing, inCorner ? width - 58 : 58, planTop + 35, words.rigView.wind, "note", inCorner ? "end" : "start");

  note(drawing, 6, 16, words.rigView.side, "caption");
  note(drawing, 6, planTop - 8, `${words.rigView.plan}: ▲ ${words.rigView.starboard}`, "caption");
  note(drawing, 6, height - 34, `▼ ${words.rigView.port}`, "caption");
  const bar = lengthUnit() === "m" ? 20 : 15.24;
  drawing.append(svg("path", { d: `M${n(width - 10 - bar * scale)} ${n(height - 10)}h${n(bar * scale)}m0 -5v10m${n(-bar * scale)} 0v-10`, class: "tick" }));
  note(drawing, width - 16 - bar * scale, height - 6, length(bar), "note", "end");
  note(drawing, 6, height - 6, words.rigView.ghost(Math.round(forecast.rig_then.in_s)), "note");
  for (const [zx, zy] of zones) {
    note(drawing, Math.min(zx, width - 90), zy, words.rigView.bite, "note");
  }
  place.replaceChildren(drawing);
}

const KEEPS_SKIPPING_M = 0.75;

/** What a heading asks of the main line: "skip", "give", "take" or "cannot". */
export function asks(heading) {
  if (heading.unfishable || heading.main_line_change_m === null) {
    return "cannot";
  }
  if (Math.abs(heading.main_line_change_m) <= KEEPS_SKIPPING_M) {
    return "skip";
  }
  return heading.main_line_change_m > 0 ? "give" : "take";
}

/** Headings to port and starboard of the present one as a flat strip. `chosen` is a turn in degrees. */
export function drawFan(place, fan, chosen) {
  const height = 176;
  const { drawing, width } = sheet(place, height, words.fan.title);
  const axis = 84;
  const half = 58;
  const sorted = fan.slice().sort((a, b) => a.turn_deg - b.turn_deg);
  const x = (deg) => 8 + ((deg + 180) / 360) * (width - 16);
  const cell = ((width - 16) / Math.max(12, sorted.length)) * 0.86;
  const most = Math.max(2, ...sorted.map((h) => Math.abs(h.main_line_change_m ?? 0)));
  for (const heading of sorted) {
    const kind = asks(heading);
    const at = x(heading.turn_deg) - cell / 2;
    if (kind === "cannot") {
      drawing.append(svg("rect", { x: n(at), y: axis - half, width: n(cell), height: 2 * half, class: "cannot", fill: `url(#hatch-${place.id})` }));
    } else if (kind === "skip") {
      drawing.append(svg("rect", { x: n(at), y: axis - 9, width: n(cell), height: 18, class: "skip" }));
    } else {
      const tall = Math.max(6, (Math.abs(heading.main_line_change_m) / most) * half);
      drawing.append(svg("rect", { x: n(at), y: n(kind === "give" ? axis - tall : axis), width: n(cell), height: n(tall), class: kind }));
    }
    if (heading.in_bite_zone) {
      drawing.append(svg("rect", { x: n(at - cell * 0.1), y: axis + half + 4, width: n(cell * 1.2), height: 9, class: "inbite" }));
    }
  }
  drawing.append(svg("path", { d: `M4 ${axis}H${width - 4}`, class: "tick" }));
  for (const deg of [-90, -45, 45, 90]) {
    drawing.append(svg("path", { d: `M${n(x(deg))} ${axis + half + 14}v5`, class: "tick" }));
    note(drawing, x(deg), height - 2, `${Math.abs(deg)}°`, "note", "middle");
  }
  drawing.append(svg("path", { d: `M${n(x(0))} 18V${axis + half + 16}`, class: "ahead" }));
  note(drawing, x(0), height - 2, words.fan.ahead, "flag", "middle");
  note(drawing, 4, 14, words.fan.port, "caption");
  note(drawing, width - 4, 14, words.fan.starboard, "caption", "end");
  if (chosen) {
    const at = x(chosen);
    drawing.append(svg("path", { d: `M${n(at)} 20V${axis + half}`, class: "chosen" }));
    drawing.append(svg("path", { d: path([[at - 9, 18], [at + 9, 18], [at, 32]], true), class: "chosenhead" }));
  }
  place.replaceChildren(drawing);
}
