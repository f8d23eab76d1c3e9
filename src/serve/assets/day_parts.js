// Figures of a day, or of many, in words and bars.

import { boat } from "./link.js";
import { length, make, percent, side, speed } from "./parts.js";
import { svg } from "./svg.js";
import { dayWords } from "./day_words.js";
import { words } from "./words.js";
import { drawReliability } from "./day_plots.js";

/** Less time gives no share. */
const SHARE_FROM_S = 600;
const STATES = ["skipping", "airborne", "dragging"];

export const hours = dayWords.hours;
/** "0.8", "12". */
export const rate = (n) => n.toFixed(n < 10 ? 1 : 0);
const sum = (list, value) => list.reduce((all, row) => all + value(row), 0);

/** Time of each state, summed. @returns {any} */
export function times(rows) {
  const of = (bait) => sum(rows.filter((row) => row.bait === bait), (row) => row.time_s);
  const [skipping, airborne, dragging] = STATES.map(of);
  return { skipping, airborne, dragging, all: skipping + airborne + dragging };
}

/** A bar, filled to a share. */
function bar(share, label, kind = "") {
  const drawing = svg("svg", { viewBox: "0 0 100 10", preserveAspectRatio: "none", class: `bar ${kind}`, role: "img", "aria-label": label });
  drawing.append(svg("rect", { x: 0, y: 0, width: 100, height: 10, class: "whole" }));
  drawing.append(svg("rect", { x: 0, y: 0, width: (100 * Math.min(1, Math.max(0, share))).toFixed(1), height: 10, class: "part" }));
  return drawing;
}

const band = (name, text, drawing) => make("li", {}, make("b", {}, name), drawing ?? null, make("span", {}, text));

/** The share of time that the bait skipped, and of how much; less than ten minutes give none. */
function skipped(rows, none) {
  const { head } = dayWords;
  const { skipping, all } = times(rows);
  if (!all) {
    return [none, ""];
  }
  return all < SHARE_FROM_S ? [head.short, head.only(hours(all))] : [head.share(percent(skipping / all)), head.of(hours(all))];
}

/** What stands at the top. */
export function headline(figures) {
  const { head } = dayWords;
  const { corrections, bites } = figures;
  const perHour = (n) => (n === null ? head.underAnHour : head.perHour(rate(n)));
  const row = (name, value = "", small = "") => [make("dt", {}, name), make("dd", {}, make("b", {}, value), small ? make("small", {}, ` ${small}`) : null)];
  return [
    make("dl", {},
      ...row(head.fished, hours(figures.fishing_s)),
      ...row(head.skipped, ...skipped(figures.by_model, head.short)),
      ...row(head.skippedTold, ...skipped(figures.by_crew, head.never)),
      ...row(head.bites, String(bites.length), bites.length ? perHour(figures.bites_per_hour) : ""),
      ...row(head.corrections, String(corrections.main + corrections.kite), head.corrected(perHour(corrections.per_hour), corrections.main, corrections.kite))),
    make("small", {}, head.model),
  ];
}

function bySail(rows, key, names) {
  const { sailing } = dayWords;
  return make("ul", { class: "bands" }, ...Object.keys(names).flatMap((name) => {
    const own = rows.filter((row) => (row[key] ?? "unknown") === name);
    const { skipping, airborne, dragging, all } = times(own);
    if (!all) {
      return [];
    }
    if (all < SHARE_FROM_S) {
      return [band(names[name], sailing.short(hours(all)))];
    }
    const of = (part) => percent(part / all);
    return [band(names[name], `${hours(all)}: ${sailing.shares(of(skipping), of(airborne), of(dragging))}`,
      bar(skipping / all, sailing.bar(of(skipping))))];
  }));
}

/** What the bait did on each point of sail and each tack. */
export function sailing(figures) {
  const { title, tack, point, side: sides, none } = dayWords.sailing;
  if (!figures.by_model.length) {
    return [make("h2", {}, title), make("p", {}, none)];
  }
  return [make("h2", {}, title), bySail(figures.by_model, "point_of_sail", point),
    make("h3", { class: "small" }, tack), bySail(figures.by_model, "tack", sides)];
}

/** Edges of a band in the crew's units. */
function edges({ against, from, to }) {
  if (against.endsWith("_deg")) {
    return dayWords.rates.band(from, to, "°");
  }
  const amount = (mps) => speed(mps).split(" ")[0];
  return dayWords.rates.band(amount(from), amount(to), `\u00a0${boat.state?.units.speed ?? "kn"}`);
}

/** Bites against each quantity. `since`: "on this day" or "so far". */
export function rates(figures, bites, since) {
  const { rates: own } = dayWords;
  const compared = figures.enough.bites;
  const said = figures.bites_per_hour === null ? own.enoughShort(bites) : own.enough(bites, rate(figures.bites_per_hour));
  const parts = [make("h2", {}, own.title), make("p", {}, compared ? said : own.few(bites, since))];
  if (!figures.bite_rates.length) {
    return [...parts, make("p", {}, own.none)];
  }
  for (const against of Object.keys(own.against)) {
    const rows = figures.bite_rates.filter((row) => row.against === against);
    if (!rows.length) {
      continue;
    }
    const value = (row) => (compared ? row.per_hour ?? 0 : row.fishing_s);
    const most = Math.max(...rows.map(value)) || 1;
    const bands = make("ul", { class: "bands" }, ...rows.map((row) => {
      const time = hours(row.fishing_s);
      const behind = since === own.season ? own.days(row.days) : "";
      const rated = row.per_hour === null ? own.noRate(row.bites, time) : own.rate(rate(row.per_hour), row.bites, time);
      const text = (compared ? rated : own.time(time, row.bites)) + behind;
      return band(edges(row), text, compared && row.per_hour === null ? null : bar(value(row) / most, text, compared ? "rate" : ""));
    }));
    // The first stands open, the others one tap away.
    parts.push(against === "kite_elevation_deg"
      ? make("div", {}, make("h3", { class: "small" }, own.against[against]), bands)
      : make("details", { "data-open": against }, make("summary", {}, make("b", {}, own.against[against])), bands));
  }
  return parts;
}

/** Foretold, lead, false alarms: one row for each class of turns. */
function told(row, enough) {
  const { advice } = dayWords;
  const said = [];
  if (row.events) {
    said.push(advice.foretold(row.detected, row.events));
    if (enough.events) {
      said.push(advice.hitRate(percent(row.detection)));
    }
  } else {
    said.push(advice.noTrouble);
  }
  if (row.lead_median_s !== null) {
    said.push((row.leads === 1 ? advice.leadOne : advice.lead)(Math.round(row.lead_median_s)));
  }
  if (row.true_alarms + row.false_alarms) {
    said.push(advice.alarms(row.true_alarms, row.false_alarms));
    if (enough.alarms) {
      said.push(advice.falseShare(percent(row.false_alarm_ratio)));
    }
  }
  if (row.averted) {
    said.push(advice.averted(row.averted));
  }
  if (row.late) {
    said.push(advice.late(row.late));
  }
  return said.join("; ");
}

/** How good the advice was. */
export function advice(figures) {
  const { advice: own } = dayWords;
  const { told: all, chances } = figures.advice;
  const { enough } = figures;
  const place = make("div", { class: "plot" });
  const bins = chances.find((row) => row.trouble === "all")?.shortened.bins ?? [];
  const samples = sum(bins, (bin) => bin.samples);
  const judged = bins.some((bin) => !bin.thin);
  return [make("h2", {}, own.title), make("p", {}, own.explain),
    make("ul", { class: "bands" }, ...all.filter((row) => row.trouble === "all").map((row) => band(own.class[row.class], told(row, enough)))),
    enough.events ? null : make("p", {}, own.few),
    enough.alarms ? null : make("p", {}, own.fewAlarms),
    make("h3", { class: "small" }, own.reliability),
    judged ? place : make("p", {}, own.reliabilityFew(samples)),
    judged ? make("p", {}, make("small", {}, `${own.better} ${own.thin}`)) : null,
    // Drawn once it has a width.
    judged ? drawLater(place, () => drawReliability(place, bins)) : null];
}

function drawLater(place, draw) {
  requestAnimationFrame(() => place.isConnected && draw());
  return null;
}

export function kiteName(kite) {
  const { kites } = dayWords;
  if (!kite) {
    return kites.unknown;
  }
  const area = kite.area_m2.toFixed(2).replace(/0$/, "");
  return kite.name === null ? kites.area(area) : kites.named(kite.name, area);
}

/** One number of what was learnt; none where the reports have not moved or narrowed it. */
function learnt({ about, off, sd, sd_before: before }) {
  const { kites } = dayWords;
  if (sd > 0.8 * before && Math.abs(off) < sd) {
    return null;
  }
  const way = off < 0 ? kites.less : kites.more;
  const [far, give] = [percent(Math.abs(off)), percent(sd)];
  switch (about) {
    case "wind_angle_deg":
      return kites.angle(Math.abs(off).toFixed(1), off < 0 ? kites.left : kites.right, sd.toFixed(1));
    case "wind_speed_share":
      return kites.sensor(far, way, give);
    case "trim_immersion":
      return kites.trim(far, off < 0 ? kites.higher : kites.deeper, give);
    case "main_line_out_share":
    case "kite_line_out_share":
      return kites.counted(kites.about[about], far, way, give);
    default:
      return kites.share(kites.about[about], far, way, give);
  }
}

/** What was learnt of each kite of the day. `moment` says times, with the date where it is another day. */
export function kites(figures, moment) {
  const { kites: own } = dayWords;
  const each = figures.kites.map((of) => {
    const numbers = of.numbers.map(learnt).filter(Boolean);
    return make("div", { class: "kite-of-day" }, make("h3", {}, kiteName(of.kite)), make("p", {}, own.fished(hours(of.fishing_s))),
      of.reports === null ? make("p", {}, own.nothing)
        : make("p", {}, own.reports(of.reports, moment(of.last_report_at)), numbers.length ? null : ` ${own.little}`),
      numbers.length ? make("ul", {}, ...numbers.map((text) => make("li", {}, text))) : null);
  });
  return [make("h2", {}, own.title), ...(each.length ? each : [make("p", {}, own.none)])];
}

function list(name, title, items, none) {
  return make("details", { "data-open": name }, make("summary", {}, make("b", {}, title)),
    items.length ? make("ul", { class: "entries" }, ...items) : make("p", {}, none));
}

const entry = (time, text) => make("li", {}, make("b", {}, time), ` ${text}`);

function biteText(bite) {
  const { lists } = dayWords;
  const known = [
    bite.kite_elevation_deg === null ? null : lists.up(Math.round(bite.kite_elevation_deg)),
    bite.kite_off_astern_deg === null ? null
      : words.turn.offAstern(Math.round(Math.abs(bite.kite_off_astern_deg)), side(bite.kite_off_astern_deg)),
    bite.heading_deg_true === null ? null : lists.heading(Math.round(bite.heading_deg_true) % 360),
    bite.speed_water_mps === null ? null : lists.boatSpeed(speed(bite.speed_water_mps)),
    bite.wind_at_sensor_mps === null ? null : lists.wind(speed(bite.wind_at_sensor_mps)),
    bite.main_line_m === null ? null : lists.main(length(bite.main_line_m)),
  ].filter(Boolean);
  return [bite.result ? lists.result[bite.result] : lists.noResult, known.length ? known.join(", ") : lists.unknown].join("; ");
}

/** Everything that happened, in words. */
export function lists({ figures, timeline }, clock) {
  const { lists: own } = dayWords;
  const { advisories, moves, turns, made_turns: made, troubles } = timeline;
  const turnText = (words_, byDeg) => words_(Math.round(Math.abs(byDeg)), side(byDeg));
  const allTurns = [
    ...made.map((turn) => [turn.from, turnText(own.turn, turn.by_deg)]),
    ...turns.map((turn) => [turn.at, turnText(own.told, turn.by_deg)]),
  ].sort((a, b) => Date.parse(a[0]) - Date.parse(b[0]));
  return [
    figures.bites.length ? list("bites", own.bites(figures.bites.length),
      figures.bites.map((bite, i) => entry(own.bite(i + 1, clock(bite.at)), biteText(bite))), "") : null,
    list("advice", own.advice(advisories.length), advisories.map((advisory) => entry(clock(advisory.raised_at),
      `${advisory.title}: ${advisory.outcome ? own.outcome[advisory.outcome] : own.open}`)), own.noAdvice),
    list("turns", own.turns(made.length, turns.length), allTurns.map(([at, text]) => entry(clock(at), text)), own.noTurns),
    list("moves", own.moves(moves.length), moves.map((move) => entry(clock(move.at),
      `${(move.by_m < 0 ? words.said.took : words.said.gave)(length(Math.abs(move.by_m)), words.lineSmall[move.line])}${move.asked_by ? `, ${own.asked}` : ""}`)), own.noMoves),
    troubles.length ? list("troubles", own.troubles(troubles.length),
      troubles.map((trouble) => entry(own.gap(clock(trouble.from), trouble.to ? clock(trouble.to) : own.end), trouble.why)), "") : null,
  ].filter(Boolean);
}
