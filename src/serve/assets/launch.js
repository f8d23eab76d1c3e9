// The launch, one step at a time, as the deck has it: DONE goes on and counts the lines, BACK goes
// back by one. Every phone shows the same step.

import { boat, read, say, watch } from "./link.js";
import { length, make, rebuild, report, setText, tell, twice } from "./parts.js";
import { deckWords } from "./deck_words.js";
import { words } from "./words.js";

/** A wet thumb taps twice, and the next step may stand under it by then. */
const REST_MS = 1500;
let restsUntil = 0;
/** The steps of the launch that is under way, and of which launch they are. */
let plan = null;
let of = "";

/** Whether a tap counts; the next ones do not for a moment. */
function rested() {
  const now = performance.now();
  if (now < restsUntil) {
    return false;
  }
  restsUntil = now + REST_MS;
  return true;
}

const moves = (step) => step.lines && (step.lines.kite_by_m !== 0 || step.lines.main_by_m !== 0);
/** Before it nobody can have counted a line. */
const isFirstOut = (n) => plan.launch.steps.findIndex((step) => step.lines) === n;

/** The lines out when step `n` is done (`sign` 1) or taken back (-1); nothing where they stay. */
function linesAfter(n, sign) {
  const step = plan.launch.steps[n];
  if (!step.lines) {
    return {};
  }
  const { kite_by_m, main_by_m, kite_line_out_m, main_line_out_m } = step.lines;
  const { kite_line_out_m: kite, main_line_out_m: main } = boat.state.deck;
  if (isFirstOut(n) || kite === null || main === null) {
    return sign > 0 ? { kite_line_out_m, main_line_out_m } : {};
  }
  return moves(step)
    ? { kite_line_out_m: Math.max(0, kite + sign * kite_by_m), main_line_out_m: Math.max(0, main + sign * main_by_m) }
    : {};
}

async function done(n) {
  const { launch } = deckWords;
  if (!rested()) {
    return;
  }
  if (n + 1 < plan.launch.steps.length) {
    await tell("/v1/crew/launch/step", { answered: n + 1, ...linesAfter(n, 1) }, launch.said(n + 1), true);
  } else {
    await tell("/v1/crew/launch/end", {}, launch.ended, true);
  }
}

function back(n) {
  if (rested()) {
    tell("/v1/crew/launch/step", { answered: n - 1, ...linesAfter(n - 1, -1) }, deckWords.launch.saidBack(n), true);
  }
}

const stop = () => twice(deckWords.launch.stop, deckWords.launch.stopAgain, { id: "launch-stop" },
  () => tell("/v1/crew/launch/end", {}, deckWords.launch.stopped, true));

function order(n) {
  const { launch } = deckWords;
  const step = plan.launch.steps[n];
  const { kite_by_m, main_by_m, over_s } = step.lines;
  const { kite_line_out_m: kite, main_line_out_m: main } = linesAfter(n, 1);
  return [
    make("p", { class: "verb give" }, launch.out),
    make("p", { class: "which" }, launch.by(length(kite_by_m), words.line.kite), make("small", {}, launch.to(length(kite)))),
    make("p", { class: "which" }, launch.by(length(main_by_m), words.line.main), make("small", {}, launch.to(length(main)))),
    make("p", { class: "tail" }, launch.both(Math.round(over_s))),
  ];
}

/** Main line by what the bait does, after each look at it. */
function nudges(step) {
  const { launch } = deckWords;
  const amount = length(step.lines.nudge_m);
  const move = (sign, said) => () => rested()
    && tell("/v1/crew/moved", { line: "main", by_m: sign * step.lines.nudge_m }, said(amount, words.lineSmall.main), true);
  return [
    make("div", { class: "row" },
      make("button", { class: "deck", type: "button", id: "launch-flies", on: move(1, words.said.gave) }, launch.flies(amount)),
      make("button", { class: "deck", type: "button", id: "launch-drags", on: move(-1, words.said.took) }, launch.drags(amount))),
    make("p", {}, make("small", {}, launch.nudge)),
  ];
}

function step(n) {
  const { launch } = deckWords;
  const { steps } = plan.launch;
  const one = steps[n];
  const { expected } = one;
  const isLast = n + 1 === steps.length;
  return [
    make("p", { class: "rank" }, make("b", { class: "mark" }, launch.mark), make("span", {}, launch.count(n + 1, steps.length)),
      make("span", { class: "title" }, one.title)),
    ...(moves(one) ? order(n) : []),
    one.length_m === null ? null : make("p", { class: "verb" }, length(one.length_m)),
    moves(one) ? null : make("p", { class: "why" }, one.what),
    make("div", { class: "row launch-answers" },
      n ? make("button", { class: "deck", type: "button", id: "launch-back", on: () => back(n) }, launch.back) : null,
      make("button", { class: "deck strong", type: "button", id: "launch-done", on: () => done(n) }, isLast ? launch.last : launch.done)),
    moves(one) ? make("p", {}, one.what) : null,
    expected ? make("p", {}, make("b", {}, launch.expect(Math.round(expected.elevation_deg), length(expected.bait_astern_m), launch.bait[expected.bait]))) : null,
    ...(one.lines && !isFirstOut(n) ? nudges(one) : []),
    make("div", { class: "row" }, stop()),
  ];
}

async function load(launch) {
  const id = `${launch.begun_at} ${boat.state.settings_revision}`;
  if (of === id) {
    return;
  }
  of = id;
  plan = null;
  const got = await read("/v1/launch");
  if (of !== id) {
    return;
  }
  if (got.problem) {
    // The next state asks again.
    of = "";
  }
  plan = got;
}

/** Shows in `card` the step that stands. */
export function showLaunch(card) {
  const { launch } = boat.state.deck;
  const { kite_line_out_m, main_line_out_m } = boat.state.deck;
  load(launch);
  rebuild(card, ["launch", plan, launch.answered, kite_line_out_m, main_line_out_m, boat.state.units], () => {
    const { working, failed, none, changed } = deckWords.launch;
    if (plan?.launch && launch.answered < plan.launch.steps.length) {
      return step(launch.answered);
    }
    let said = working;
    if (plan?.problem) {
      said = failed(plan.problem.detail, plan.problem.cure);
    } else if (plan) {
      said = plan.launch ? changed : none(plan.why);
    }
    return [make("p", { class: "why", role: "status" }, said), make("div", { class: "row" }, stop())];
  });
}

/** Works out the launch for the day that `query` asks for, and begins it; `hint` says why not. */
export async function beginLaunch(query, hint) {
  const { launch } = deckWords;
  setText(hint, launch.working);
  const got = await read(`/v1/launch${query}`);
  if (got.problem) {
    setText(hint, launch.failed(got.problem.detail, got.problem.cure));
    return false;
  }
  if (!got.launch) {
    setText(hint, launch.none(got.why));
    return false;
  }
  setText(hint, "");
  const answer = await say("/v1/crew/launch", got.day);
  report(answer, launch.begun, true);
  return !answer.problem;
}

/** Puts the beginning of a launch into `place`, on the rig page. @param {HTMLElement} place */
export function startLaunch(place) {
  const { launch } = deckWords;
  const hint = make("p", { class: "hint", role: "status" });
  const onward = make("a", { class: "deck strong", href: "/", hidden: true }, launch.goOn);
  place.append(
    make("h2", {}, launch.title),
    make("p", {}, launch.explain),
    make("p", { class: "caution" }, launch.caution),
    twice(launch.begin, launch.again, { id: "launch-begin" },
      () => beginLaunch(document.querySelector("#locker")?.getAttribute("data-asked") ?? "", hint)),
    hint, onward);
  watch(() => { onward.hidden = !boat.state?.deck.launch; });
}
