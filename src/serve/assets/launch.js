// The launch, one step at a time: DONE goes on and tells the lines out, BACK goes back.

import { boat, read, watch } from "./link.js";
import { length, make, rebuild, setText, tell } from "./parts.js";
import { rigWords } from "./rig_words.js";
import { words } from "./words.js";

/** @type {HTMLElement} */
let result = null;
/** @type {HTMLElement} */
let hint = null;
let plan = null;
let at = 0;

function lines(step) {
  const { launch } = rigWords;
  const { kite_by_m, main_by_m, over_s, kite_line_out_m, main_line_out_m, nudge_m } = step.lines;
  return [
    kite_by_m || main_by_m
      ? make("p", {}, make("b", {}, launch.out(length(kite_by_m), length(main_by_m), Math.round(over_s))))
      : null,
    make("p", {}, launch.then(length(kite_line_out_m), length(main_line_out_m))),
    make("p", {}, launch.nudge(length(nudge_m))),
  ];
}

function step() {
  const { launch } = rigWords;
  const { steps } = plan;
  const one = steps[at];
  const { expected } = one;
  return [
    make("p", { class: "hint" }, launch.count(at + 1, steps.length)),
    make("h3", {}, one.title),
    make("p", {}, one.what),
    one.length_m === null ? null : make("p", {}, make("b", {}, length(one.length_m))),
    ...(one.lines ? lines(one) : []),
    expected ? make("p", {}, launch.expect(Math.round(expected.elevation_deg), length(expected.bait_astern_m), launch.bait[expected.bait])) : null,
    make("div", { class: "row few" },
      make("button", { class: "deck", type: "button", id: "launch-back", on: back }, at ? launch.back : launch.stop),
      make("button", { class: "deck strong", type: "button", id: "launch-done", on: done }, launch.done)),
  ];
}

function show() {
  rebuild(result, [plan, at, boat.state?.units], () => (plan ? step() : []));
}

function back() {
  if (at) {
    at -= 1;
  } else {
    plan = null;
  }
  show();
}

async function done() {
  const { lines: out } = plan.steps[at];
  const of = plan;
  const from = at;
  if (out) {
    const body = { kite_line_out_m: out.kite_line_out_m, main_line_out_m: out.main_line_out_m };
    if (!(await tell("/v1/crew/lines-out", body, words.said.out, true))) {
      return;
    }
  }
  // Another tap may have moved on meanwhile.
  if (plan !== of || at !== from) {
    return;
  }
  if (at + 1 < plan.steps.length) {
    at += 1;
  } else {
    plan = null;
    setText(hint, rigWords.launch.ended);
  }
  show();
}

async function begin() {
  const { launch } = rigWords;
  setText(hint, launch.working);
  const got = await read(`/v1/launch${document.querySelector("#locker")?.getAttribute("data-asked") ?? ""}`);
  if (got.problem) {
    setText(hint, rigWords.locker.failed(got.problem.detail, got.problem.cure));
    return;
  }
  setText(hint, got.launch ? "" : launch.none(got.why));
  plan = got.launch;
  at = 0;
  show();
}

/** Puts the launch into `place`. @param {HTMLElement} place */
export function startLaunch(place) {
  const { launch } = rigWords;
  hint = make("p", { class: "hint", role: "status" });
  result = make("div", { id: "launch-step" });
  place.append(
    make("h2", {}, launch.title),
    make("p", {}, launch.explain),
    make("p", { class: "caution" }, launch.caution),
    make("button", { class: "deck strong", type: "button", id: "launch-begin", on: begin }, launch.begin),
    hint, result);
  watch(show);
}
