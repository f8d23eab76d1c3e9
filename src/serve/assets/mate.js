// The mate's page: the one thing to do now or next, and what the mate tells the boat.

import { acknowledge, actionLine, actionParts, asking, count, pressing, rank, unseen } from "./advice.js";
import { boat, secondsUntil, watch } from "./link.js";
import { drawHeight, drawRig } from "./draw.js";
import {
  $, all, fromMetres, lengthUnit, lookButtons, make, percent, rebuild, setText, side, speed, startPage, tell, toMetres,
} from "./parts.js";
import { startBefore } from "./before.js";
import { startTurn } from "./turn.js";
import { words } from "./words.js";

/** A wet thumb taps twice, and the next thing asked may stand under it by then. */
const REST_MS = 1500;
let restsUntil = 0;

/** Answers what the advisory asks for first, as it is read here. */
async function answer(advisory, kind) {
  if (performance.now() < restsUntil) {
    return;
  }
  restsUntil = performance.now() + REST_MS;
  const [{ line, by_m }] = advisory.actions;
  const asked = { advisory: advisory.id, revision: advisory.revision, line, by_m };
  const text = words.answered[kind](actionParts(advisory.actions[0]).verb, words.lineSmall[line]);
  const said = await tell("/v1/crew/plan", { answer: kind, asked }, text, true);
  if (said && kind === "other") {
    moving.line = line;
    showMoved(boat.state);
    $("moved").scrollIntoView({ block: "center" });
  }
}

const answers = (advisory) => make("div", { class: "row answers" }, ...Object.entries(words.answer).map(([kind, text]) =>
  make("button", { class: `deck${kind === "done" ? " strong" : ""}`, "data-answer": kind, on: () => answer(advisory, kind) }, text)));

function adviceCard(advisory) {
  const [first, ...rest] = advisory.actions;
  const parts = first ? actionParts(first) : { kind: "look", verb: advisory.title, line: "", tail: "" };
  return [
    rank(advisory),
    make("p", { class: `verb ${parts.kind}${parts.verb.length > 9 ? " long" : ""}` }, parts.verb),
    ...(parts.line
      ? [
        make("p", { class: "which" }, parts.line),
        make("p", { class: "when" }, make("b", { class: "count", id: "start-count" })),
        make("p", { class: "tail" }, parts.tail),
      ]
      : [make("p", { class: "tail" }, parts.tail)]),
    first?.do === "move_line" ? answers(advisory) : null,
    make("p", { class: "why" }, advisory.cause),
    make("p", { class: "odds" },
      advisory.chance === null ? null : make("b", {}, words.chance(percent(advisory.chance))),
      make("span", { id: "onset-count" }),
      advisory.chance_basis ? make("small", {}, advisory.chance_basis) : null),
    rest.length ? make("ul", { class: "rest" }, ...rest.map((action) => make("li", {}, action.do === "see" ? actionLine(action) : `${words.then} ${actionLine(action)}`))) : null,
    advisory.without_action ? make("p", { class: "without" }, `${words.without} ${advisory.without_action}`) : null,
    unseen(advisory) ? make("div", { class: "row" }, make("button", { class: "deck", id: "seen", on: () => acknowledge(advisory) }, words.seen)) : null,
  ].filter(Boolean);
}

function plainCard(title, kind, lines, note) {
  return [
    make("p", { class: `verb ${kind}` }, title),
    ...lines.map((line) => make("p", { class: "why" }, line)),
    note ? make("p", { class: "odds" }, make("small", {}, note)) : null,
  ].filter(Boolean);
}

function showCard(state) {
  const card = $("card");
  const first = pressing(state);
  if (!state) {
    card.className = "live card wait";
    rebuild(card, "wait", () => plainCard(words.connectingTitle, "look", [words.connectingWhy]));
  } else if (state.deck.bite_at) {
    card.className = "live card bite";
    rebuild(card, "bite", () => plainCard(words.fish, "look", words.fishSteps, words.fishBasis));
  } else if (first) {
    card.className = `live card ${first.priority} ${first.state}`;
    const { id, revision, priority, state: life, title, cause, chance, actions, without_action, chance_basis } = first;
    const key = [id, revision, priority, life, title, cause, chance, actions, without_action, chance_basis, lengthUnit()];
    rebuild(card, key, () => adviceCard(first));
  } else if (!boat.forecast) {
    card.className = "live card wait";
    rebuild(card, ["none", boat.reasons], () =>
      plainCard(words.noForecast, "look", [words.noForecastWhy, ...boat.reasons.map((reason) => `• ${reason}`)]));
  } else {
    card.className = "live card calm";
    const share = boat.forecast.plan?.skipping_without;
    rebuild(card, ["calm", share === undefined ? null : percent(share), boat.forecast.basis], () =>
      plainCard(words.calm, "calmverb",
        [share === undefined ? words.calmPlain : words.calmWhy(percent(share))], boat.forecast.basis));
  }
  count();
}

function showOthers(state) {
  const onCard = state?.deck.bite_at ? null : pressing(state);
  const rest = (state?.advisories ?? []).filter((advisory) => advisory !== onCard);
  // What the card does not ask for can be answered here.
  const asks = state?.deck.bite_at ? null : asking(state);
  const key = rest.map(({ id, title, cause, state: life, priority, revision }) =>
    [id, title, cause, life, priority, id === asks?.id ? revision : 0, lengthUnit()]);
  $("others").hidden = !rest.length;
  rebuild($("others"), key, () => rest.map((advisory) =>
    make("div", { class: `other ${advisory.priority}` },
      make("p", {},
        make("b", { class: `mark ${advisory.priority}` }, words.priority[advisory.priority]),
        make("b", {}, ` ${advisory.title} `),
        make("span", {}, advisory.state.startsWith("active") ? advisory.cause : words.alertState[advisory.state])),
      unseen(advisory) ? make("button", { class: "deck", on: () => acknowledge(advisory) }, words.seen) : null,
      ...(advisory === asks ? [make("p", { class: "order" }, actionLine(advisory.actions[0])), answers(advisory)] : []))));
}

/** What is to come step by step; each step is answered on the card when its turn comes. */
function showPlan(state) {
  const plan = state && boat.forecast?.plan;
  const steps = plan?.steps ?? [];
  const more = !state?.deck.bite_at && (steps.length > 1 || plan?.shortfall);
  $("plan").hidden = !more;
  if (!more) {
    return;
  }
  rebuild($("plan"), [boat.forecast.made_at, lengthUnit()], () => [
    make("h2", {}, words.plan),
    make("ol", { class: "steps" }, ...steps.map((step) => {
      const { verb, tail } = actionParts({ do: "move_line", ...step });
      return make("li", {}, make("b", {}, `${verb} `), `${words.lineSmall[step.line]}, `,
        make("span", { "data-start-in": step.start_in_s }), `, ${tail}`);
    })),
    plan.shortfall ? make("p", {}, plan.shortfall) : null,
  ]);
  for (const place of all("[data-start-in]", $("plan"))) {
    const s = Math.ceil(Number(place.dataset.startIn) + secondsUntil(boat.forecast.made_at));
    setText(place, s > 0 ? words.inSeconds(s) : words.now);
  }
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

/** What the mate sees of kite, marker and place; each tap can be taken back. */
function startSight() {
  const { sight, said } = words;
  const button = (text, path, body, done) =>
    make("button", { class: "deck", on: () => tell(path, body, done, true) }, text);
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
    make("h3", { class: "small" }, sight.fishing),
    make("div", { class: "row" },
      button(sight.start, "/v1/crew/session", { fishing: "start" }, said.start),
      button(sight.stop, "/v1/crew/session", { fishing: "stop" }, said.stop),
      button(sight.mark, "/v1/crew/mark", {}, said.mark)));
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
  drawHeight($("height-chart"), forecast, sinceMade);
  drawRig($("rig-view"), forecast, boat.state.bite_zone);
}

function show() {
  const { state } = boat;
  showCard(state);
  showOthers(state);
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
addEventListener("resize", () => { drawn = ""; showDrawings(); });
