// The helm's page: how fast the boat may turn, what a turn would do, and announcing one.

import { acknowledge, actionLine, count, pressing, rank, unseen } from "./advice.js";
import { boat, secondsUntil, watch } from "./link.js";
import { asks, drawFan } from "./draw.js";
import { $, length, lengthUnit, lookButtons, make, rebuild, side, startPage, turnWords } from "./parts.js";
import { choice, startTurn, watchChoice } from "./turn.js";
import { words } from "./words.js";

/** Who is to do it: the mate has the lines, the helm has the wheel. */
function order(action) {
  switch (action.do) {
    case "move_line":
      return [words.mateDoes, make("span", { id: "start-count" }), `: ${actionLine(action)}`];
    case "limit_turn":
      return [`${words.helmDoes} ${actionLine(action)}`];
    default:
      return [actionLine(action)];
  }
}

function trouble(advisory, more) {
  return [
    rank(advisory),
    make("div", { class: "beside" },
      make("p", { class: "figure", id: "trouble-count" }),
      unseen(advisory) ? make("button", { class: "deck", id: "seen", on: () => acknowledge(advisory) }, words.seen) : null),
    ...advisory.actions.slice(0, 2).map((action) => make("p", { class: "order" }, ...order(action))),
    make("p", { class: "why" }, advisory.cause),
    more ? make("p", { class: "odds" }, make("small", {}, words.more(more))) : null,
  ];
}

/** The trouble that presses most, as the mate has it. */
function showTrouble() {
  const { state } = boat;
  const place = $("trouble");
  const first = pressing(state);
  const bite = Boolean(state?.deck.bite_at);
  place.hidden = !bite && !first;
  if (bite) {
    place.className = "live card bite";
    rebuild(place, "bite", () => [make("p", { class: "verb" }, words.fish), make("p", { class: "tail" }, words.fishSteps[1])]);
  } else if (first) {
    place.className = `live card ${first.priority} ${first.state}`;
    const more = state.advisories.filter((advisory) => advisory.state.startsWith("active")).length - 1;
    const { id, priority, state: life, title, cause, actions } = first;
    const key = [id, priority, life, title, cause, actions, more, boat.forecast?.turn?.by_deg, lengthUnit()];
    rebuild(place, key, () => trouble(first, more));
  }
  count();
}

function limitColumn(name, rate, limit) {
  const value = rate === null ? words.turn.limitNone : words.turn.rate(rate?.toFixed(1));
  return make("div", { class: "column" },
    make("h3", {}, name),
    make("p", { class: rate === null || !limit ? "tail" : "figure" }, limit ? value : words.turn.limitUnknown),
    limit && rate ? make("p", { class: "tail" }, words.turn.takes(Math.round(limit.for_deg), Math.round(limit.for_deg / rate))) : null);
}

/** Whether the bait is out of trim already: the limits are reckoned from one that skips. */
function isOutOfTrim() {
  const first = pressing(boat.state);
  return ["bait-airborne", "bait-dragging"].includes(first?.kind)
    && (!first.onset_at || secondsUntil(first.onset_at) <= 0);
}

function showLimits() {
  const limit = boat.forecast?.turn_limit ?? null;
  const untrimmed = isOutOfTrim();
  const reasons = boat.state && !boat.forecast ? boat.reasons : [];
  const title = limit ? words.turn.limitFor(Math.round(limit.for_deg)) : words.turn.limit;
  rebuild($("limits"), [limit, reasons, boat.state === null, untrimmed], () => [
    make("h2", {}, boat.state ? title : words.connectingWhy),
    make("div", { class: "sides" },
      limitColumn(`◀ ${words.turn.port}`, limit?.port_deg_s, limit),
      limitColumn(`${words.turn.starboard} ▶`, limit?.starboard_deg_s, limit)),
    limit ? make("p", { class: "order" }, untrimmed ? words.turn.limitTrim : words.turn.limitHands) : null,
    limit ? make("p", { class: "why" }, limit.why) : null,
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
  showTrouble();
  showLimits();
  showFan();
  showPreview();
}

startPage("helm");
startTurn($("turn-box"), $("announced"));
$("look-buttons").append(...lookButtons());
watchChoice(show);
watch(show);
setInterval(count, 250);
addEventListener("resize", show);
