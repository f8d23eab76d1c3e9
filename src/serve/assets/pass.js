// The pass of the bait over a mark: what the helm does next, what is likely, and the answer; to the
// mate only that it comes.

import { boat, secondsUntil } from "./link.js";
import { length, lengthUnit, make, percent, rebuild, setText, tell } from "./parts.js";
import { passWords } from "./pass_words.js";

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

function refusal({ why, helps }) {
  return [make("p", { class: "title" }, passWords.none), make("p", { class: "why" }, why), make("p", { class: "why" }, passWords.helps(helps))];
}

function plan(pass) {
  return [
    ...legs(pass),
    pass.legs.length || pass.hold_heading_deg === null ? null : make("p", { class: "verb look" }, passWords.straight(heading(pass.hold_heading_deg))),
    pass.speed_kn === null ? null : make("p", { class: "which" }, passWords.speed(pass.speed_kn.toFixed(1))),
    make("p", { class: "fact" }, passWords.over, " ", make("b", { "data-over": true }), ". ",
      pass.chance === null ? "" : passWords.chance(percent(pass.chance)),
      typeof pass.chance_of_marked === "number" ? passWords.marked(percent(pass.chance_of_marked)) : ""),
    pass.likely ? null : make("p", { class: "title" }, passWords.unlikely),
    make("p", { class: "why" }, pass.because),
  ];
}

function answers(pass) {
  const { mark, state } = pass;
  const offered = state === "offered" && !pass.refused;
  const going = state === "accepted" || state === "under_way";
  return make("div", { class: "row" },
    offered ? button(passWords.accept, "accept", mark, { class: "deck strong" }) : null,
    going ? button(passWords.end, "end", mark) : state === "offered" ? button(passWords.decline, "decline", mark) : null);
}

/** What was brought in sight: a plan once, a refusal once, or they would pull the page from under a thumb. */
const brought = new Set();

const over = (pass) => pass.state === "declined" || pass.state === "ended";

const shownOf = (pass) => [
  pass.mark, nameOf(pass.mark), pass.state, pass.number, pass.refused, pass.likely, pass.because, pass.speed_kn,
  pass.hold_heading_deg === null ? null : heading(pass.hold_heading_deg),
  [pass.chance, pass.chance_of_marked].map((share) => (typeof share === "number" ? percent(share) : null)),
  pass.legs.map((leg) => [leg.side, Math.round(leg.by_deg), leg.rate_deg_s.toFixed(1), heading(leg.then_heading_deg)]),
];

/** Shows the pass in `place`. @param {HTMLElement} place @param {"mate" | "helm"} page */
export function showPass(place, page) {
  const { pass } = boat.state;
  const going = pass && (pass.state === "accepted" || pass.state === "under_way");
  place.hidden = !pass || over(pass) || (page === "mate" && !going);
  if (place.hidden) {
    return;
  }
  rebuild(place, page, () => [make("div", {}), make("div", {}), page === "helm" ? make("p", { class: "caution" }, passWords.caution) : null]);
  const [what, answer] = Array.from(place.children);
  rebuild(what, [shownOf(pass), lengthUnit()], () => [
    make("p", { class: "rank" }, make("span", { class: "mark" }, passWords.title(nameOf(pass.mark), pass.number)), make("span", { class: "fact" }, passWords.state[pass.state])),
    ...(pass.refused ? refusal(pass.refused) : plan(pass)),
  ]);
  // What a thumb is about to tap is not built anew with every second.
  rebuild(answer, [pass.mark, pass.state, Boolean(pass.refused)], () => (page === "helm" ? answers(pass) : null));
  const offer = `${pass.mark} ${pass.number} ${Boolean(pass.refused)}`;
  if (page === "helm" && pass.state === "offered" && !brought.has(offer)) {
    brought.add(offer);
    place.scrollIntoView({ block: place.offsetHeight > innerHeight ? "start" : "nearest" });
  }
  for (const [i, leg] of pass.legs.entries()) {
    const when = what.querySelector(`[data-leg="${i}"]`);
    if (when) {
      setText(when, passWords.when(until(leg.in_s)));
    }
  }
  const arrives = what.querySelector("[data-over]");
  if (arrives && pass.in_s !== null) {
    setText(arrives, passWords.when(until(pass.in_s)) + (pass.bait_closest_m === null ? "" : passWords.closest(length(pass.bait_closest_m))));
  }
}
