// The mate's page: the one thing to do now or next, and what the mate tells the boat.

import {
  actionParts, asking, because, count, enterLines, factLine, gotIt, isGoing, lineOrder, odds, orderLine, ordered,
  pressing, rank, running, seaLine, showOthers, whenComes,
} from "./advice.js";
import { boat, secondsUntil, watch } from "./link.js";
import { drawHeight, drawRig } from "./draw.js";
import {
  $, all, fromMetres, length, lengthUnit, lookButtons, make, percent, rebuild, setText, side, speed, startPage, tell,
  toMetres, twice,
} from "./parts.js";
import { startBefore } from "./before.js";
import { startTurn } from "./turn.js";
import { words } from "./words.js";

/** A wet thumb taps twice, and the next thing asked may stand under it by then. */
const REST_MS = 1500;
let restsUntil = 0;
/** When what may be needed is loaded. */
const LATER_MS = 5000;

/** Answers the line that the advisory asks for first, as it is read here. */
async function answer(advisory, kind) {
  if (performance.now() < restsUntil) {
    return;
  }
  restsUntil = performance.now() + REST_MS;
  const order = lineOrder(advisory);
  const { line, by_m } = order;
  const asked = { advisory: advisory.id, revision: advisory.revision, line, by_m };
  const text = words.answered[kind](actionParts(order).verb, words.lineSmall[line]);
  const said = await tell("/v1/crew/plan", { answer: kind, asked }, text, true);
  if (said && kind === "other") {
    moving.line = line;
    showMoved(boat.state);
    $("moved").scrollIntoView({ block: "center" });
  }
}

const answers = (advisory) => make("div", { class: "row answers" }, ...Object.entries(words.answer).map(([kind, text]) =>
  make("button", { class: `deck${kind === "done" ? " strong" : ""}`, "data-answer": kind, on: () => answer(advisory, kind) }, text)));

const size = (verb) => (verb.length > 24 ? " sentence" : verb.length > 12 ? " longer" : verb.length > 9 ? " long" : "");

/** The order on the card in its own size. */
function bigOrder(action) {
  const { kind, verb, line, target, tail } = actionParts(action);
  return [
    make("p", { class: `verb ${kind}${size(verb)}` }, verb),
    line ? make("p", { class: "which" }, line, target ? make("small", {}, `, ${target}`) : null) : null,
    action.do === "move_line"
      ? make("p", { class: "when" }, running("start", action.start_at, { class: "count", id: "start-count" }), make("span", { class: "tail" }, tail))
      : tail ? make("p", { class: "tail" }, tail) : null,
    action.changed ? make("p", { class: "instead" }, words.instead(length(Math.abs(action.changed.from_m)), action.changed.why)) : null,
  ];
}

/** What is no more than a caution, without the size of an order that presses. */
const smallOrder = (action) => [
  action.do === "move_line" ? make("p", { class: "check" }, words.checkTrim) : null,
  orderLine(action),
];

function adviceCard(advisory) {
  const [first, ...rest] = ordered(advisory);
  return [
    rank(advisory),
    ...(!first ? [] : advisory.priority === "caution" ? smallOrder(first) : bigOrder(first)),
    lineOrder(advisory) ? answers(advisory) : null,
    make("p", { class: "why" }, because(advisory)),
    factLine(advisory),
    advisory.chance === null ? null : make("p", { class: "times" }, whenComes(advisory, "trouble", { id: "onset-count" }),
      advisory.turn_at ? running("turn", advisory.turn_at) : null),
    make("div", { class: "foot" }, odds(advisory), gotIt(advisory, { id: "seen" })),
    enterLines(advisory),
    ...rest.map(orderLine),
  ];
}

function plainCard(title, kind, lines, ...more) {
  return [
    make("p", { class: `verb ${kind}` }, title),
    ...lines.map((line) => make("p", { class: "why" }, line)),
    ...more,
  ];
}

/** The strike's part, loaded soon after the page stands: with a fish on the link may be lost. */
let strike = null;

const loadStrike = async () => (strike ??= await import("./strike.js"));

function strikeCard(card, state) {
  card.className = "live card bite";
  if (strike) {
    strike.showStrike(card, "mate");
    return;
  }
  const { title, what } = state.strike.steps.find((one) => one.step === state.strike.step);
  rebuild(card, ["strike", title], () => plainCard(title.toUpperCase(), "look", [what]));
  loadStrike().then(show, () => {});
}

/** The launch is loaded when there is one. */
let launching = null;

async function loadLaunch() {
  launching ??= await import("./launch.js");
  return launching;
}

const SKIPS_WELL = 0.7;

function showCard(state) {
  const card = $("card");
  const first = pressing(state);
  if (!state) {
    card.className = "live card wait";
    rebuild(card, "wait", () => plainCard(words.connectingTitle, "look", [words.connectingWhy]));
  } else if (state.strike) {
    strikeCard(card, state);
  } else if (state.deck.launch) {
    card.className = "live card launch";
    if (launching) {
      launching.showLaunch(card);
    } else {
      rebuild(card, "launch", () => plainCard(words.launching.title, "look", [words.launching.loading]));
      loadLaunch().then(show, () => {});
    }
  } else if (first) {
    card.className = `live card ${first.priority} ${first.state}`;
    const { at, countdown_s, raised_at, ...shown } = first;
    rebuild(card, [shown, lengthUnit(), boat.forecast?.turn?.by_deg], () => adviceCard(first));
  } else if (!boat.forecast) {
    card.className = "live card wait";
    const linesOut = state.deck.fishing && [state.deck.kite_line_out_m, state.deck.main_line_out_m].includes(null);
    rebuild(card, ["none", boat.reasons, linesOut], () =>
      plainCard(words.noForecast, "look", [words.noForecastWhy, ...boat.reasons.map((reason) => `• ${reason}`)],
        make("p", { class: "fact", "data-fact": "data-lost" }),
        linesOut ? make("a", { class: "deck strong", href: "/rig#deck" }, words.enterLines) : null));
  } else {
    card.className = "live card calm";
    const share = boat.forecast.plan?.skipping_without;
    const sea = seaLine(boat.forecast.sea);
    const verb = share < SKIPS_WELL ? words.watchBait
      : isGoing(state.pass) && state.pass.lines[0] ? words.passLine : words.calm;
    rebuild(card, [verb, share === undefined ? null : percent(share), boat.forecast.basis, sea], () =>
      plainCard(verb, "calmverb",
        [share === undefined ? words.calmPlain : words.calmWhy(percent(share))],
        make("p", {}, make("small", {}, `${boat.forecast.basis} ${sea}`))));
  }
}

/** What is to come step by step; the card takes the answers. */
function showPlan(state) {
  const advisory = state?.strike ? null : asking(state);
  const steps = (advisory?.actions ?? []).filter((action) => action.do === "move_line");
  $("plan").hidden = steps.length < 2;
  rebuild($("plan"), [steps, lengthUnit()], () => [
    make("h2", {}, words.plan),
    make("ol", { class: "steps" }, ...steps.map((step) => make("li", {}, orderLine(step)))),
  ]);
}

const BAITS = ["airborne", "skipping", "dragging"];

function startBaits() {
  $("bait-buttons").append(...BAITS.map((state) => make("button", {
    class: `deck bait-${state}`, "data-bait": state,
    on: () => tell("/v1/crew/bait", { state }, words.said.bait(words.baitSmall[state]), true),
  }, words.bait[state])));
}

function showBaits(state) {
  const said = state?.deck.bait;
  for (const button of all("[data-bait]")) {
    button.setAttribute("aria-pressed", String(said?.value === button.dataset.bait));
  }
  setText($("bait-said"), said
    ? words.baitSaid(words.baitSmall[said.value], words.ago(-secondsUntil(said.at)))
    : words.baitNever);
}

const moving = { line: "main", amount: 0 };
const STEPS = { m: [0.5, 1, 2, 3, 4, 5, 7, 10, 15, 20, 30], ft: [2, 3, 5, 7, 10, 15, 20, 30, 50, 70, 100] };

function stepAmount() {
  const steps = STEPS[lengthUnit()];
  return steps[Math.min(steps.length - 1, Math.max(0, moving.amount))];
}

async function move(sign) {
  const amount = stepAmount();
  const text = (sign > 0 ? words.said.gave : words.said.took)(`${amount} ${lengthUnit()}`, words.lineSmall[moving.line]);
  await tell("/v1/crew/moved", { line: moving.line, by_m: sign * toMetres(amount) }, text, true);
}

function startMoved() {
  moving.amount = 3;
  const step = (by) => () => {
    moving.amount = Math.min(STEPS.m.length - 1, Math.max(0, moving.amount + by));
    showMoved(boat.state);
  };
  $("moved-box").append(
    make("div", { class: "row" }, ...["main", "kite"].map((line) => make("button", {
      class: "deck", "data-line": line, on: () => { moving.line = line; showMoved(boat.state); },
    }, make("b", {}, words.line[line]), make("small", {})))),
    make("div", { class: "row stepper" },
      make("button", { class: "deck", "aria-label": words.lines.lessLabel, on: step(-1) }, words.lines.less),
      make("output", { id: "step-amount" }),
      make("button", { class: "deck", "aria-label": words.lines.moreLabel, on: step(1) }, words.lines.more)),
    make("div", { class: "row" },
      make("button", { class: "deck", id: "gave", on: () => move(1) }, words.lines.gave),
      make("button", { class: "deck", id: "took", on: () => move(-1) }, words.lines.took)));
}

function showMoved(state) {
  setText($("step-amount"), `${stepAmount()} ${lengthUnit()}`);
  for (const button of all("[data-line]")) {
    const { line } = button.dataset;
    const out = state?.deck[`${line}_line_out_m`];
    button.setAttribute("aria-pressed", String(moving.line === line));
    const amount = out === null || out === undefined ? words.lines.unknown : `${Math.round(fromMetres(out))} ${lengthUnit()}`;
    setText(button.querySelector("small"), amount);
  }
}

const KITE_DEG = [30, 40, 45, 50, 60];
const OFF_DEG = [-70, -45, -20, 20, 45, 70];

/** What the mate sees of kite, marker and place. What can be taken back goes with one tap, the start
 * and the end of fishing with two. */
function startSight() {
  const { sight, said } = words;
  const button = (text, path, body, done) =>
    make("button", { class: "deck", on: () => tell(path, body, done, true) }, text);
  const hint = make("p", { class: "hint", role: "status" });
  const begin = async () => {
    const launch = await loadLaunch().catch(() => null);
    setText(hint, launch ? "" : words.noAnswer);
    if (launch && (await launch.beginLaunch("", hint))) {
      scrollTo(0, 0);
    }
  };
  const session = (fishing) => twice(sight[fishing], sight[`${fishing}Again`], { "data-session": fishing },
    () => tell("/v1/crew/session", { fishing }, said[fishing], false));
  $("sight-box").append(
    make("h3", { class: "small" }, sight.elevation),
    make("div", { class: "row few" }, ...KITE_DEG.map((deg) =>
      button(sight.degrees(deg), "/v1/crew/elevation", { elevation_deg: deg }, said.elevation(deg)))),
    make("h3", { class: "small" }, sight.bearing),
    make("div", { class: "row" }, ...OFF_DEG.map((deg) =>
      button(`${deg < 0 ? "◀\u00a0" : ""}${sight.degrees(Math.abs(deg))}${deg > 0 ? "\u00a0▶" : ""}`,
        "/v1/crew/bearing", { off_astern_deg: deg }, said.bearing(Math.abs(deg), side(deg))))),
    make("h3", { class: "small" }, sight.marker),
    make("div", { class: "row" },
      button(sight.markerWet, "/v1/crew/marker", { in_water: true }, said.markerWet),
      button(sight.markerDry, "/v1/crew/marker", { in_water: false }, said.markerDry)),
    make("h3", { class: "small" }, sight.place),
    make("div", { class: "row" }, button(sight.mark, "/v1/crew/mark", {}, said.mark)));
  $("session-box").append(
    make("div", { class: "row" }, session("start"), session("stop"),
      make("button", { class: "deck", id: "kite-home", on: () => tell("/v1/crew/strike", { said: "home" }, said.home, true) }, sight.home)),
    make("div", { class: "row" }, twice(words.launching.begin, words.launching.again, { id: "launch-begin" }, begin)),
    hint,
    make("p", {}, make("small", {}, sight.sessionHint)));
}

function showNumbers(state) {
  const vessel = state?.vessel;
  const rows = vessel
    ? [
      [words.numbers.wind, vessel.true_wind, (v) => `${speed(v.speed_mps)} ${words.numbers.from(Math.round(v.from_deg_true))}`],
      [words.numbers.apparent, vessel.apparent_wind, (v) => {
        const off = v.angle_deg > 180 ? v.angle_deg - 360 : v.angle_deg;
        return `${speed(v.speed_mps)} ${words.numbers.offBow(Math.round(Math.abs(off)), side(off))}`;
      }],
      [words.numbers.heading, vessel.heading_deg_true, (v) => `${Math.round(v)}°`],
      [words.numbers.speed, vessel.speed_water_mps, speed],
    ]
    : [];
  const lost = vessel?.missing.map((missing) => missing.quantity) ?? [];
  rebuild($("numbers-list"), [rows.map(([, reading]) => reading), lost], () => rows.flatMap(([name, reading, show]) => [
    make("dt", {}, name),
    reading
      ? make("dd", { class: reading.age_s > 5 ? "stale" : null }, make("b", {}, show(reading.value)),
        make("small", {}, ` ${words.numbers.grade[reading.grade]}, ${reading.source}, ${words.numbers.stale(words.age(reading.age_s))}`))
      : make("dd", {}, make("b", {}, words.numbers.none)),
  ]));
}

let drawn = "";

function showDrawings() {
  const forecast = boat.forecast;
  const wide = $("height-chart").clientWidth;
  const key = forecast ? `${forecast.made_at} ${wide} ${lengthUnit()} ${Math.floor(-secondsUntil(forecast.made_at))}` : `none ${boat.reasons}`;
  if (key === drawn) {
    return;
  }
  drawn = key;
  if (!forecast) {
    $("height-chart").textContent = words.chart.none;
    $("rig-view").textContent = words.chart.none;
    return;
  }
  const sinceMade = Math.min(forecast.horizon_s / 2, Math.max(0, -secondsUntil(forecast.made_at)));
  // What the chart marks is what the card asks for.
  const orders = (asking(boat.state)?.actions ?? []).filter((action) => action.do === "move_line");
  drawHeight($("height-chart"), forecast, sinceMade, orders.map((action) => ({
    by_m: action.by_m, over_s: action.over_s, start_in_s: sinceMade + secondsUntil(action.start_at),
  })));
  drawRig($("rig-view"), forecast, boat.state.bite_zone);
}

/** The pass: its line, its turns. */
function showPass(state) {
  const place = $("pass");
  if (state?.pass) {
    import("./pass.js").then((part) => part.showPass(place, "mate"), () => {});
  } else {
    place.hidden = true;
  }
}

function show() {
  const { state } = boat;
  showCard(state);
  showPass(state);
  const onCard = state?.strike || state?.deck.launch ? null : pressing(state);
  showOthers(state, onCard, answers);
  showPlan(state);
  showBaits(state);
  showMoved(state);
  showNumbers(state);
  showDrawings();
}

startPage("mate");
startBaits();
startMoved();
startBefore($("before"));
startSight();
startTurn($("turn-box"), $("announced"));
$("look-buttons").append(...lookButtons());
watch(show);
setInterval(count, 250);
setTimeout(() => loadStrike().catch(() => {}), LATER_MS);
addEventListener("resize", () => { drawn = ""; showDrawings(); });
