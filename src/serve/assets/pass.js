// The pass of the bait over a mark: what the helm does next, what is likely, and the answer; to the
// mate the line to move for it and the turn that comes.

import { asking, howLong, isGoing, moveBy, moveKind } from "./advice.js";
import { boat, secondsUntil } from "./link.js";
import { length, lengthUnit, make, percent, rebuild, setText, tell } from "./parts.js";
import { passWords } from "./pass_words.js";
import { words } from "./words.js";

const button = (text, said, mark, more) => make("button", { class: "deck", type: "button", "data-pass": said, ...more,
  on: () => tell("/v1/crew/pass", { said, mark }, passWords.said[said], true) }, text);

const nameOf = (number) => boat.state.marks.find((mark) => mark.number === number)?.name ?? passWords.mark(number);
const heading = (degrees) => String(Math.round(degrees) % 360).padStart(3, "0");

/** Seconds of the boat's time until something that was `in_s` away in this state. */
const until = (in_s) => Math.round(in_s + secondsUntil(boat.state.at));

function legs(pass) {
  return pass.legs.flatMap((leg, i) => [
    make("p", { class: i ? "which" : "verb look" }, passWords.leg(leg.side, Math.round(leg.by_deg), i > 0)),
    make("p", { class: "fact" }, passWords.rate(leg.rate_deg_s), ", ", make("b", { "data-leg": i }), ". ",
      passWords.hold(heading(leg.then_heading_deg))),
  ]);
}

/** Whether an advisory orders line already: it reckons with the turns of the pass, and nobody moves line twice. */
const isOrdered = () => Boolean(asking(boat.state));

/** The line to move for the pass: the mate's order, on the helm's page one fact of the plan. */
function lines(pass, page) {
  if (page === "mate" && pass.lines.length && isOrdered()) {
    return [make("p", { class: "fact" }, passWords.lineOrdered)];
  }
  const said = (order, i) => [`${words.lineSmall[order.line]}, `, make("b", { "data-order": i }), `, ${howLong(order)}`];
  return pass.lines.flatMap((order, i) => (page === "mate"
    ? [make("p", { class: `verb look ${moveKind(order.by_m)}` }, moveBy(order.by_m)), make("p", { class: "which" }, ...said(order, i))]
    : [make("p", { class: "fact" }, make("b", {}, `${words.who.mate} `), `${moveBy(order.by_m)} `, ...said(order, i))]));
}

function refusal({ why, helps }) {
  return [make("p", { class: "title" }, passWords.none), make("p", { class: "why" }, why), make("p", { class: "why" }, passWords.helps(helps))];
}

function plan(pass, page) {
  return [
    ...(page === "mate" ? lines(pass, page) : []),
    ...legs(pass),
    pass.legs.length || pass.hold_heading_deg === null ? null : make("p", { class: "verb look" }, passWords.straight(heading(pass.hold_heading_deg))),
    ...(page === "helm" ? lines(pass, page) : []),
    pass.speed_kn === null ? null : make("p", { class: "which" }, passWords.speed(pass.speed_kn.toFixed(1))),
    make("p", { class: "fact" }, passWords.over, " ", make("b", { "data-over": true }), ". ",
      passWords.chance(percent(pass.chance)),
      typeof pass.chance_of_marked === "number" ? passWords.marked(percent(pass.chance_of_marked)) : ""),
    pass.likely ? null : make("p", { class: "title" }, passWords.unlikely),
    make("p", { class: "why" }, pass.because),
  ];
}

function answers(pass) {
  const { mark, state } = pass;
  const offered = state === "offered" && !pass.refused;
  const going = isGoing(pass);
  return make("div", { class: "row" },
    offered ? button(passWords.accept, "accept", mark, { class: "deck strong" }) : null,
    going ? button(passWords.end, "end", mark) : state === "offered" ? button(passWords.decline, "decline", mark) : null);
}

/** What was brought in sight once, or it would pull the page from under a thumb: an offer, a refusal, what is steered. */
const brought = new Set();

const over = (pass) => pass.state === "declined" || pass.state === "ended";

const shownOf = (pass) => [
  pass.mark, nameOf(pass.mark), pass.state, pass.number, pass.refused, pass.likely, pass.because, pass.speed_kn,
  pass.hold_heading_deg === null ? null : heading(pass.hold_heading_deg),
  [pass.chance, pass.chance_of_marked].map((share) => (typeof share === "number" ? percent(share) : null)),
  isOrdered(), pass.lines.map((order) => [order.line, length(order.by_m), Math.round(order.over_s)]),
  pass.legs.map((leg) => [leg.side, Math.round(leg.by_deg), leg.rate_deg_s.toFixed(1), heading(leg.then_heading_deg)]),
];

/** Shows the pass in `place`. @param {HTMLElement} place @param {"mate" | "helm"} page */
export function showPass(place, page) {
  const { pass } = boat.state;
  place.hidden = !pass || over(pass) || (page === "mate" && !isGoing(pass));
  if (place.hidden) {
    return;
  }
  rebuild(place, page, () => [make("div", {}), make("div", {}), page === "helm" ? make("p", { class: "caution" }, passWords.caution) : null]);
  const [what, answer] = Array.from(place.children);
  rebuild(what, [shownOf(pass), lengthUnit()], () => [
    make("p", { class: "rank" }, make("span", { class: "mark" }, passWords.title(nameOf(pass.mark), pass.number)), make("span", { class: "fact" }, passWords.state[pass.state])),
    ...(pass.refused ? refusal(pass.refused) : pass.in_s === null ? [] : plan(pass, page)),
  ]);
  // What a thumb is about to tap is not built anew with every second.
  rebuild(answer, [pass.mark, pass.state, Boolean(pass.refused)], () => (page === "helm" ? answers(pass) : null));
  const going = isGoing(pass);
  const moment = `${pass.mark} ${pass.number} ${pass.refused ? "no" : going}`;
  if (page === "helm" && !brought.has(moment)) {
    brought.add(moment);
    place.scrollIntoView({ block: going || place.offsetHeight > innerHeight ? "start" : "nearest" });
  }
  for (const [kind, steps] of [["leg", pass.legs], ["order", pass.lines]]) {
    for (const [i, { in_s }] of steps.entries()) {
      const when = what.querySelector(`[data-${kind}="${i}"]`);
      if (when) {
        setText(when, passWords.when(until(in_s)));
      }
    }
  }
  const arrives = what.querySelector("[data-over]");
  if (arrives) {
    setText(arrives, passWords.when(until(pass.in_s)) + (pass.bait_closest_m === null ? "" : passWords.closest(length(pass.bait_closest_m))));
  }
}
