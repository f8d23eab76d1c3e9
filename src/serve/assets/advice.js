// Advisories as mate and helm both show them: words, running times, who is to act, GOT IT.

import { boat, secondsUntil } from "./link.js";
import { $, all, length, make, percent, range, rebuild, setText, tell, timeOf } from "./parts.js";
import { words } from "./words.js";

export const acknowledge = (advisory) =>
  tell(`/v1/advisories/${encodeURIComponent(advisory.id)}/acknowledge`, {}, words.said.seen, false);
const unseen = (advisory) =>
  (advisory.state.endsWith("unacknowledged") || advisory.state === "active-silenced") && advisory.priority !== "caution";
const isActive = (advisory) => advisory.state.startsWith("active");
/** The most pressing advisory whose trouble is not over. */
export const pressing = (state) => state?.advisories.find(isActive);

/** The first order for a line among the actions of an advisory. */
export const lineOrder = (advisory) => advisory?.actions.find((action) => action.do === "move_line");
/** The most pressing advisory that asks for line. */
export const asking = (state) => state?.advisories.find((advisory) => isActive(advisory) && lineOrder(advisory));

/** Accepted, not over. */
export const isGoing = (pass) => ["accepted", "under_way"].includes(pass?.state);

/** Why it comes; since when nobody watches it, or from when the lines are. */
export function because({ kind, cause, unwatched_since: since }) {
  const told = ["rig-unset", "lines-unchecked"].includes(kind) ? boat.state?.deck.restored : null;
  if (since) {
    return words.since(cause, timeOf(since));
  }
  return told ? words.asOf(cause, timeOf(told.as_of)) : cause;
}

/** A time that runs: `kind` names its words. */
export const running = (kind, time, attributes) =>
  make("span", { ...attributes, "data-until": time, "data-kind": kind });

/** Running times go on between events, on the boat's clock. */
export function count() {
  for (const place of all("[data-until]")) {
    setText(place, words.until[place.dataset.kind](Math.ceil(secondsUntil(place.dataset.until))));
  }
}

/** Which page this is: whose orders come first. */
const role = () => (document.body.classList.contains("helm") ? "helm" : "mate");

/** Whose an order in words is, and the words without the name. */
function addressed(what) {
  const found = /^(helm|mate): (.*)$/.exec(what);
  return found ? { who: found[1], what: found[2] } : { who: null, what };
}

/** Whoever must act; `null` is everybody. */
function actor(action) {
  switch (action.do) {
    case "move_line":
    case "step_line":
      return "mate";
    case "limit_turn":
      return "helm";
    default:
      return addressed(action.what).who;
  }
}

/** The orders, those for this page first. */
export function ordered(advisory) {
  const rank = (action) => [role(), null].indexOf(actor(action));
  const of = (wanted) => advisory.actions.filter((action) => rank(action) === wanted);
  return [...of(0), ...of(1), ...of(-1)];
}

/** "steadily, about 4 s: about 4 cranks, then look; 3 times at most". */
export function howLong({ over_s, in_one_go, cranks, portions }) {
  return [
    words.over(Math.max(1, Math.round(over_s)), in_one_go),
    cranks ? `: ${words.cranks(Math.round(cranks))}` : "",
    portions > 1 ? words.portions(portions) : "",
  ].join("");
}

/** "2.0°/s at most: 40° takes 20 s", of the turn that is coming; without one only the rate. */
function slowerThan(rate) {
  const turn = Math.abs(boat.forecast?.turn?.by_deg ?? 0);
  return turn >= 1
    ? words.slowerThan(rate.toFixed(1), Math.round(turn), Math.round(turn / rate))
    : words.atMost(rate.toFixed(1));
}

const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);
const moveVerb = (by_m) => (by_m > 0 ? words.letOut : words.windIn);
export const moveKind = (by_m) => (by_m > 0 ? "give" : "take");
export const moveBy = (by_m) => `${moveVerb(by_m)}\u00a0${length(Math.abs(by_m))}`;

/** "LET OUT 3 m / MAIN LINE / to 131 m out / steadily, about 8 s". */
export function actionParts(action) {
  switch (action.do) {
    case "move_line":
      return {
        kind: moveKind(action.by_m),
        verb: moveBy(action.by_m),
        line: words.line[action.line],
        target: action.to_m === null ? "" : words.outAfter(length(action.to_m)),
        tail: howLong(action),
      };
    case "step_line":
      return {
        kind: moveKind(action.least_m),
        verb: moveVerb(action.least_m),
        line: words.line[action.line],
        target: "",
        tail: words.bitByBit(range(Math.abs(action.least_m), Math.abs(action.most_m)), action.until),
      };
    case "limit_turn":
      return { kind: "slower", verb: words.slower, line: "", target: "", tail: slowerThan(action.rate_deg_s) };
    default:
      return { kind: "look", verb: sentence(addressed(action.what).what), line: "", target: "", tail: "" };
  }
}

/** An action in one line: whose it is (but on their own page), what and how. */
export function orderLine(action) {
  const { verb, target, tail } = actionParts(action);
  const who = actor(action);
  const parts = [verb];
  if (action.line) {
    parts.push(` ${words.lineSmall[action.line]}`, target ? `, ${target}` : "");
  }
  if (tail) {
    parts.push(action.do === "limit_turn" ? ": " : ", ", tail);
  }
  return make("p", { class: "order" },
    who && who !== role() ? make("b", {}, `${words.who[who]} `) : null,
    action.do === "move_line" ? running("start", action.start_at, { class: "start-at" }) : null,
    action.do === "move_line" ? " " : null,
    parts.join(""));
}

/** How pressing it is and what it is called. */
export const rank = (advisory) => make("p", { class: "rank" },
  isActive(advisory) ? make("b", { class: `mark ${advisory.priority}` }, words.priority[advisory.priority])
    : make("b", { class: "over" }, words.isOver),
  make("span", { class: "title" }, advisory.title));

/** When the trouble comes, and the turn behind it. */
export const whenComes = (advisory, kind, attributes) =>
  running(advisory.unwatched_since ? (kind === "trouble" ? "troubleUnwatched" : "unwatched") : kind,
    advisory.onset_at ?? advisory.at, attributes);

const of = (part, low, high) => words.loadShare(words.parts[part], percent(low), percent(high));

/** What the forecast says of loads and distances now. */
function measured(advisory) {
  const { loads = [], clearances = [] } = boat.forecast ?? {};
  const most = (list, by) => list.slice().sort((a, b) => by(b) - by(a))[0];
  const isBand = advisory.kind === "false-release";
  if (isBand || advisory.kind === "line-overload") {
    const load = most(loads.filter(({ part }) => (part === "band") === isBand), ({ share }) => share.p90);
    return load ? of(load.part, load.share.p10, load.share.p90) : "";
  }
  if (advisory.kind === "line-foul") {
    const near = most(clearances, ({ least_m, clearance_m }) => clearance_m - least_m.p10);
    return near ? words.nearness(sentence(words.lineSmall[near.line]), range(near.least_m.p10, near.least_m.p90),
      near.structure, length(near.clearance_m)) : "";
  }
  if (advisory.kind === "data-lost") {
    return "silent";
  }
  return "";
}

/** A line for what runs on while the advisory stands. */
export function factLine(advisory) {
  const text = measured(advisory);
  return text ? make("p", { class: "fact", "data-fact": advisory.kind }) : null;
}

/** Fills the lines of [`factLine`]. */
function showFacts(state) {
  for (const place of all("[data-fact]")) {
    const { fact } = place.dataset;
    if (fact === "data-lost") {
      const silent = (state.vessel.missing ?? []).filter(({ last_heard }) => last_heard);
      rebuild(place, silent.map(({ quantity, last_heard }) => [quantity, last_heard]), () =>
        silent.flatMap(({ quantity, last_heard }, i) => [i ? ", " : "", `${sentence(quantity)} `, running("silent", last_heard)]));
    } else {
      setText(place, measured({ kind: fact }));
    }
  }
}

/** The sea that the forecast reckons with. */
export const seaLine = (sea) => (sea
  ? words.sea(length(sea.height_m), Math.round(sea.period_s), sea.source) : words.seaUnknown);

/** Chance with and without doing it, in one line that opens: what it rests on. */
export function odds(advisory) {
  if (advisory.chance === null) {
    return null;
  }
  const { chance, chance_with_plan: withPlan, without_action: without, chance_basis: basis } = advisory;
  return make("details", { class: "odds", "data-open": advisory.id },
    make("summary", {}, make("b", {}, withPlan === null
      ? words.likely(percent(chance)) : `${words.doNothing(percent(chance))} ${words.doThis(percent(withPlan))}`)),
    without ? make("p", {}, words.doNothingMeans(without)) : null,
    make("p", {}, make("b", {}, `${words.howSure} `), basis));
}

export const gotIt = (advisory, attributes) => (unseen(advisory)
  ? make("button", { class: "deck got-it", ...attributes, on: () => acknowledge(advisory) }, words.seen) : null);

/** Where the lines out are entered, for what asks for them. */
export const enterLines = (advisory) => (["rig-unset", "lines-unchecked"].includes(advisory.kind)
  ? make("a", { class: "deck strong", href: "/rig#deck" }, words.enterLines) : null);

/** All advisories but that on the card, each with its own orders. `answers` makes the buttons for one
 * that asks for line, if this page takes answers. */
export function showOthers(state, onCard, answers) {
  const place = $("others");
  const rest = (state?.advisories ?? []).filter((advisory) => advisory !== onCard);
  const asks = answers && onCard !== asking(state) ? asking(state) : null;
  place.hidden = !rest.length;
  const key = rest.map(({ countdown_s, at, chance, chance_basis, revision, ...shown }) =>
    [shown, shown.id === asks?.id ? revision : 0, length(1), boat.forecast?.turn?.by_deg]);
  rebuild(place, key, () => rest.map((advisory) => {
    const orders = isActive(advisory) ? ordered(advisory).slice(0, advisory.priority === "caution" ? 1 : 2) : [];
    return make("div", { class: `other ${isActive(advisory) ? advisory.priority : "over"}` },
      make("div", { class: "what" },
        rank(advisory),
        ...orders.map(orderLine),
        isActive(advisory) ? make("p", { class: "cause" }, sentence(because(advisory))) : null,
        isActive(advisory) ? factLine(advisory) : null),
      gotIt(advisory, {}),
      enterLines(advisory),
      advisory === asks ? answers(advisory) : null);
  }));
  if (state) {
    showFacts(state);
  }
  count();
}
