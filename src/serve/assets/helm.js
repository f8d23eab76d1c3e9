// The helm's page: announcing a turn, how fast the boat may turn, what a turn would do.

import { because, count, factLine, gotIt, ordered, orderLine, pressing, rank, showOthers, whenComes } from "./advice.js";
import { boat, watch } from "./link.js";
import { asks, drawFan } from "./draw.js";
import { $, length, lengthUnit, lookButtons, make, percent, rebuild, side, startPage, turnWords } from "./parts.js";
import { choice, rateWords, startTurn, watchChoice } from "./turn.js";
import { words } from "./words.js";

function trouble(advisory) {
  return [
    rank(advisory),
    make("div", { class: "beside" },
      whenComes(advisory, "onset", { class: "figure", id: "trouble-count" }),
      gotIt(advisory, { id: "seen" })),
    ...ordered(advisory).slice(0, 2).map(orderLine),
    make("p", { class: "why" }, because(advisory)),
    factLine(advisory),
  ];
}

/** The strike's part, loaded soon after the page stands: with a fish on the link may be lost. */
let strikePart = null;
const LATER_MS = 5000;

const loadStrike = async () => (strikePart ??= await import("./strike.js"));

function showStrike(place, strike) {
  place.className = "live card bite";
  if (strikePart) {
    strikePart.showStrike(place, "helm");
    return;
  }
  const { helm } = strike.steps.find((one) => one.step === strike.step);
  rebuild(place, ["strike", helm], () => [make("p", { class: "title" }, helm)]);
  loadStrike().then(show, () => {});
}

/** The marks come after the page stands; without a link they are asked for again. */
const MARKS_AGAIN_MS = 3000;

function loadMarks() {
  import("./marks.js").then(({ startMarks }) => startMarks($("marks")), () => setTimeout(loadMarks, MARKS_AGAIN_MS));
}

/** The trouble that presses most, as the mate has it. */
function showTrouble() {
  const { state } = boat;
  const place = $("trouble");
  const first = pressing(state);
  const bite = Boolean(state?.strike);
  const launch = !bite && Boolean(state?.deck.launch);
  place.hidden = !bite && !launch && !first;
  if (bite) {
    showStrike(place, state.strike);
  } else if (launch) {
    place.className = "live card";
    rebuild(place, "launch", () => [make("p", { class: "title" }, words.launching.title), make("p", { class: "order" }, words.launching.helm)]);
  } else if (first) {
    place.className = `live card ${first.priority} ${first.state}`;
    const { at, countdown_s, chance, chance_basis, revision, ...shown } = first;
    rebuild(place, [shown, boat.forecast?.turn?.by_deg, lengthUnit()], () => trouble(first));
  }
  showOthers(state, bite || launch ? null : first, null);
}

function limitColumn(name, rate, alone, limit) {
  const value = !limit ? words.turn.limitUnknown
    : rate === null ? words.turn.limitNone(Math.round(limit.for_deg)) : rateWords(rate, limit);
  const isRate = limit && rate !== null && rate < limit.tried_to_deg_s;
  return make("div", { class: "column" },
    make("h3", {}, name),
    make("p", { class: isRate ? "figure" : "tail" }, value),
    isRate ? make("p", { class: "tail" }, words.turn.takes(Math.round(limit.for_deg), Math.round(limit.for_deg / rate))) : null,
    limit && rate !== null
      ? make("p", {}, make("small", {}, words.turn.limitAlone(alone === null ? words.turn.limitNever : rateWords(alone, limit)))) : null);
}

function limitParts(limit) {
  if (!limit.skips) {
    return [make("p", { class: "tail why" }, limit.why)];
  }
  return [
    make("h2", {}, words.turn.limitFor(Math.round(limit.for_deg))),
    make("div", { class: "sides" },
      limitColumn(`◀ ${words.turn.port}`, limit.port_deg_s, limit.port_without_hands_deg_s, limit),
      limitColumn(`${words.turn.starboard} ▶`, limit.starboard_deg_s, limit.starboard_without_hands_deg_s, limit)),
    make("p", {}, make("small", {}, words.turn.limitHands(percent(limit.allowed_chance)))),
    limit.why ? make("p", { class: "why" }, limit.why) : null,
  ];
}

/** The turn limit, no faster to the side of the turn than an order says that stands. */
function limitNow() {
  const { turn_limit: limit, turn } = boat.forecast ?? {};
  const rates = (boat.state?.advisories ?? [])
    .filter((advisory) => !advisory.outcome)
    .flatMap((advisory) => advisory.actions)
    .filter((action) => action.do === "limit_turn")
    .map((action) => action.rate_deg_s);
  if (!limit || !turn || !rates.length) {
    return limit ?? null;
  }
  const key = turn.by_deg > 0 ? "starboard_deg_s" : "port_deg_s";
  return limit[key] === null ? limit : { ...limit, [key]: Math.min(limit[key], ...rates) };
}

function showLimits() {
  const limit = limitNow();
  const reasons = boat.state && !boat.forecast ? boat.reasons : [];
  rebuild($("limits"), [limit, reasons, boat.state === null], () => (limit
    ? limitParts(limit)
    : [
      make("h2", {}, boat.state ? words.turn.limit : words.connectingWhy),
      make("div", { class: "sides" },
        limitColumn(`◀ ${words.turn.port}`, null, null, null), limitColumn(`${words.turn.starboard} ▶`, null, null, null)),
      reasons.length ? make("p", { class: "order" }, words.noForecastWhy) : null,
      ...reasons.map((reason) => make("p", { class: "why" }, reason)),
    ]));
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
      : words.turn.previewLine(change > 0 ? words.letOut : words.windIn, length(Math.abs(change))),
    heading.kite_elevation_deg === null ? null : words.turn.previewKite(Math.round(heading.kite_elevation_deg), where),
    heading.in_bite_zone ? words.turn.inBite : words.turn.outBite,
  ].filter(Boolean);
}

function showPreview() {
  const fan = boat.forecast?.fan ?? [];
  const place = $("preview");
  rebuild(place, [choice.by, choice.by ? nearest(fan, choice.by) ?? null : null, lengthUnit()], () => (choice.by
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

/** The pass of the bait over a mark, loaded when there is one. */
function showPass() {
  const place = $("pass");
  if (boat.state?.pass) {
    import("./pass.js").then((part) => part.showPass(place, "helm"), () => {});
  } else {
    place.hidden = true;
  }
}

function show() {
  showTrouble();
  showPass();
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
setTimeout(() => loadStrike().catch(() => {}), LATER_MS);
loadMarks();
addEventListener("resize", show);
