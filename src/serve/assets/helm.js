// The helm's page: how fast the boat may turn, what a turn would do, and announcing one.

import { boat, watch } from "./link.js";
import { asks, drawFan } from "./draw.js";
import { $, length, lookButtons, make, rebuild, side, startPage, turnWords } from "./parts.js";
import { choice, startTurn, watchChoice } from "./turn.js";
import { words } from "./words.js";

function limitColumn(name, rate, known) {
  const value = rate === null ? words.turn.limitNone : words.turn.rate(rate?.toFixed(1));
  return make("div", { class: "column" },
    make("h3", {}, name),
    make("p", { class: rate === null || !known ? "tail" : "figure" }, known ? value : words.turn.limitUnknown),
    known && rate ? make("p", { class: "tail" }, words.turn.ninety(Math.round(90 / rate))) : null);
}

function showLimits() {
  const limit = boat.forecast?.turn_limit ?? null;
  const reasons = boat.state && !boat.forecast ? boat.reasons : [];
  rebuild($("limits"), [limit, reasons, boat.state === null], () => [
    make("h2", {}, boat.state ? words.turn.limit : words.connectingWhy),
    make("div", { class: "sides" },
      limitColumn(`◀ ${words.turn.port}`, limit?.port_deg_s, limit !== null),
      limitColumn(`${words.turn.starboard} ▶`, limit?.starboard_deg_s, limit !== null)),
    limit ? make("p", { class: "why" }, `${limit.why} (${words.turn.limitFor(Math.round(limit.for_deg))})`) : null,
    ...reasons.map((reason) => make("p", { class: "why" }, `${words.noForecast}: ${reason}`)),
  ]);
}

function nearest(fan, byDeg) {
  const apart = (heading) => Math.abs(((heading.turn_deg - byDeg + 540) % 360) - 180);
  return fan.slice().sort((a, b) => apart(a) - apart(b)).find((heading) => apart(heading) <= 10);
}

function previewLines(heading) {
  if (!heading) {
    return [words.turn.previewNone];
  }
  if (heading.unfishable) {
    return [words.turn.cannot(heading.unfishable)];
  }
  const change = heading.main_line_change_m;
  const kind = asks(heading);
  const off = Math.round(heading.off_astern_deg ?? 0);
  const where = off === 0 ? words.turn.astern : words.turn.offAstern(Math.abs(off), side(off));
  return [
    { skip: words.turn.skips, give: words.turn.flies, take: words.turn.drags, cannot: words.turn.previewNone }[kind],
    kind === "skip" || change === null
      ? words.turn.previewNoLine
      : words.turn.previewLine(change > 0 ? words.give : words.take, length(Math.abs(change))),
    heading.kite_elevation_deg === null ? null : words.turn.previewKite(Math.round(heading.kite_elevation_deg), where),
    heading.in_bite_zone ? words.turn.inBite : words.turn.outBite,
  ].filter(Boolean);
}

function showPreview() {
  const fan = boat.forecast?.fan ?? [];
  const place = $("preview");
  rebuild(place, [choice.by, choice.by ? nearest(fan, choice.by) ?? null : null], () => (choice.by
    ? [
      make("h3", {}, words.turn.previewTitle(turnWords(choice.by))),
      make("ul", {}, ...previewLines(nearest(fan, choice.by)).map((line) => make("li", {}, line))),
      make("small", {}, words.turn.settled),
    ]
    : null));
}

let drawn = "";

function showFan() {
  const fan = boat.forecast?.fan ?? [];
  const key = `${boat.forecast?.made_at} ${fan.length} ${choice.by} ${$("fan-strip").clientWidth}`;
  if (key === drawn) {
    return;
  }
  drawn = key;
  if (fan.length) {
    drawFan($("fan-strip"), fan, choice.by);
  } else {
    $("fan-strip").textContent = words.fan.none;
  }
}

function show() {
  showLimits();
  showFan();
  showPreview();
}

startPage("helm");
startTurn($("turn-box"), $("announced"));
$("look-buttons").append(...lookButtons());
watchChoice(show);
watch(show);
addEventListener("resize", show);
