// A fish on, or the kite on its way home: one step at a time, each for one person. The mate answers
// all of them, the helm what is asked of the helm.

import { boat } from "./link.js";
import { fromMetres, length, lengthUnit, make, percent, rebuild, setText, side, speed, tell } from "./parts.js";
import { strikeWords } from "./strike_words.js";
import { newtons, weightUnit } from "./weights.js";
import { words } from "./words.js";

/** A wet thumb taps twice, and the next step's button may stand under it by then. */
const REST_MS = 1500;
let restsUntil = 0;

async function say(said, more) {
  if (performance.now() < restsUntil) {
    return;
  }
  restsUntil = performance.now() + REST_MS;
  await tell("/v1/crew/strike", { said, ...more }, strikeWords.said[said], true);
}

const clock = (time) => new Date(time).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit" });
const about = (n) => newtons(n, 2);
const duration = (s) => words.age(Math.max(10, Math.round(s / 10) * 10));
/** Room between lines, finer than a count of line: "0.7 m", "2 ft". */
const room = (metres) => `${Number(fromMetres(metres).toPrecision(1))}\u00a0${lengthUnit()}`;

/** Where the fish is: the boat from above, bow up. */
const sectors = () => make("div", { class: "compass" },
  ...[-45, 0, 45, -90, null, 90, -135, 180, 135].map((deg) => (deg === null
    ? make("span", { class: "tail" }, strikeWords.bow)
    : make("button", { class: "deck", type: "button", "data-fish": deg, on: () => say("fish", { off_bow_deg: deg }) }, strikeWords.sectors[deg]))));

const elsewhere = (strike) => (strike.cause === "bite"
  ? make("details", { "data-open": "fish" }, make("summary", {}, make("b", {}, strikeWords.elsewhere)), sectors())
  : null);

function verdict({ cause, kite }) {
  const { none, noneHome, narrow, clear } = strikeWords.verdict;
  const spare = kite.clear_by_m === null ? "" : room(Math.abs(kite.clear_by_m));
  switch (kite.verdict) {
    case "none":
      return (cause === "home" ? noneHome : none)(kite.nearest);
    case "narrow":
      return narrow(spare, kite.nearest);
    default:
      return clear(kite.clear_by_m > 5 ? "" : spare, kite.nearest);
  }
}

/** The heading on which the kite comes in. */
function heading(strike) {
  const { kite } = strike;
  if (!kite) {
    return [make("p", { class: "why" }, strikeWords.unknown(strike.kite_unknown))];
  }
  const degrees = Math.round(kite.heading_deg_true) % 360;
  const eased = Math.round(kite.easiest_deg_true) % 360;
  return [
    make("p", { class: "which" }, `${strikeWords.way[kite.way]}, ${strikeWords.heading(degrees)}`),
    make("p", { class: "fact" }, strikeWords.turnBy(Math.round(Math.abs(kite.turn_deg))), ", ", make("span", { "data-heading-now": true })),
    make("p", { class: "fact" }, verdict(strike)),
    kite.last_metres ? make("p", { class: "fact" }, strikeWords.last(length(kite.last_metres_m), kite.last_metres)) : null,
    kite.way_clear ? null : make("p", { class: "fact" }, strikeWords.wayFouls),
    eased === degrees ? null : make("p", { class: "fact" }, strikeWords.easier(eased)),
  ];
}

/** The kite on its way in. */
function winding(strike) {
  const { kite } = strike;
  if (!kite) {
    return [make("p", { class: "fact" }, strikeWords.unknown(strike.kite_unknown))];
  }
  const { winding: w, kite_off_astern_deg: off, drops_with_m: drops } = kite;
  const pull = strikeWords.pull(about(w.load_n), about(w.gust_load_n));
  const share = w.holder_share === null ? "." : `: ${strikeWords.holder(percent(w.holder_share))}.`;
  return [
    make("p", { class: "fact" }, strikeWords.kiteSide(Math.round(Math.abs(off)), side(off)), " ", verdict(strike)),
    make("p", { class: "fact" }, pull, share),
    make("p", { class: "fact" }, strikeWords.handle(about(w.handle_n), duration(w.time_s))),
    drops === null ? null : make("p", { class: "fact" }, strikeWords.drops(length(drops))),
  ];
}

function details(strike) {
  switch (strike.step) {
    case "drag":
      return [make("p", { class: "which" }, strikeWords.drag(newtons(strike.hooked_drag_n))),
        make("p", {}, make("small", {}, strikeWords.dragFrom))];
    case "fish":
      return [sectors()];
    case "turn":
      return heading(strike);
    case "kite_in":
      return winding(strike);
    default:
      return [];
  }
}

/** The boat when it began. */
function then(strike) {
  const { then: was, at } = strike;
  const { rows, none, lines, wind, input } = strikeWords.then;
  const known = (value, write) => (value === null ? none : write(value));
  const list = {
    time: clock(at),
    place: known(was.position, (p) => `${p.latitude_deg.toFixed(4)}, ${p.longitude_deg.toFixed(4)}`),
    heading: known(was.heading_deg_true, (deg) => strikeWords.heading(Math.round(deg) % 360)),
    speed: known(was.speed_mps, speed),
    wind: known(was.true_wind, (w) => wind(speed(w.speed_mps), Math.round(w.from_deg_true))),
    lines: lines(known(was.kite_line_out_m, length), known(was.main_line_out_m, length)),
    bait: known(was.bait, (bait) => words.baitSmall[bait]),
    input: input(clock(was.input_from), clock(at), was.recording),
  };
  return make("details", { "data-open": "then" },
    make("summary", {}, make("b", {}, strikeWords.then[strike.cause])),
    make("dl", {}, ...Object.entries(list).flatMap(([row, text]) => [make("dt", {}, rows[row]), make("dd", {}, text)])),
    make("p", {}, make("small", {}, strikeWords.basis)));
}

const head = (strike, text) => make("p", { class: "rank" },
  make("span", { class: "mark" }, strikeWords.cause[strike.cause]), make("span", { class: "fact" }, text));

function ended(strike) {
  const { how, what } = strike.ended;
  const { kite_line_out_m, main_line_out_m } = strike.then;
  const before = { kite_line_out_m, main_line_out_m };
  const known = kite_line_out_m !== null && main_line_out_m !== null;
  const again = known ? make("button", { class: strike.kite_in ? "deck" : "deck strong", id: "bait-again", on: () => tell("/v1/crew/lines-out", before, words.said.out, true) },
    strikeWords.asBefore(strike.kite_in, length(kite_line_out_m), length(main_line_out_m))) : null;
  const count = make("a", { class: "deck", id: "bait-out", href: "/rig#deck" }, strikeWords.count_them);
  // With the kite in the boat the launch comes before any bait.
  const row = strike.kite_in
    ? [make("a", { class: "deck strong", href: "/rig#launch" }, strikeWords.again), again, count]
    : [again, count, make("button", { class: "deck", "data-strike": "home", on: () => say("home") }, strikeWords.home)];
  return [
    head(strike, strikeWords.since(clock(strike.at))),
    make("p", { class: "verb look" }, strikeWords.end[how]),
    make("p", { class: "why" }, what),
    make("div", { class: "row" }, ...row),
    then(strike),
  ];
}

const answer = (step) => {
  const done = strikeWords.done[step];
  return done
    ? make("div", { class: "row" }, make("button", { class: "deck strong", type: "button", "data-strike": done[0], on: () => say(done[0]) }, done[1]))
    : null;
};

const ends = ({ cause, step }) => [
  make("p", { class: "fact" }, strikeWords.over),
  make("div", { class: "row ends" }, ...Object.entries(strikeWords.ends[cause]).map(([said, text]) =>
    make("button", { class: "deck", type: "button", "data-strike": said, on: () => say(said) }, text))),
  step === "watch" ? make("p", {}, make("small", {}, strikeWords.missedMeans)) : null,
];

function running(strike) {
  const at = strike.steps.findIndex((one) => one.step === strike.step);
  const step = strike.steps[at];
  return [
    head(strike, strikeWords.count(at + 1, strike.steps.length, clock(strike.at))),
    make("p", { class: "title" }, `${strikeWords.who[step.who]}:`),
    make("p", { class: "verb look" }, step.title.toUpperCase()),
    make("p", { class: "why" }, step.what),
    ...details(strike),
    answer(strike.step),
    ["turn", "kite_in"].includes(strike.step) ? elsewhere(strike) : null,
    ...ends(strike),
    then(strike),
  ];
}

/** What the helm does; what the others do meanwhile in small. */
function helm(strike) {
  const step = strike.steps.find((one) => one.step === strike.step);
  if (strike.ended) {
    return [head(strike, strikeWords.since(clock(strike.at))), make("p", { class: "verb look" }, strikeWords.end[strike.ended.how])];
  }
  const holds = strike.step === "kite_in" && strike.kite;
  return [
    head(strike, strikeWords.since(clock(strike.at))),
    ...(step.who === "helm"
      ? [make("p", { class: "verb look" }, step.title.toUpperCase()), make("p", { class: "why" }, step.what), ...heading(strike), answer(strike.step)]
      : [
        make("p", { class: "title" }, holds ? strikeWords.hold(Math.round(strike.kite.heading_deg_true) % 360) : step.helm),
        make("p", { class: "fact" }, strikeWords.now(strikeWords.who[step.who], step.title)),
      ]),
  ];
}

/** The step that was shown last. */
let shownStep = "";

/** Shows the strike in `place`, and brings each new step in sight. @param {HTMLElement} place @param {"mate" | "helm"} page */
export function showStrike(place, page) {
  const { strike, vessel } = boat.state;
  rebuild(place, [page, strike, lengthUnit(), weightUnit()], () =>
    (page === "helm" ? helm(strike) : strike.ended ? ended(strike) : running(strike)));
  const step = `${strike.at} ${strike.ended?.how ?? strike.step}`;
  if (step !== shownStep) {
    shownStep = step;
    scrollTo(0, 0);
  }
  const now = place.querySelector("[data-heading-now]");
  const heading_now = vessel.heading_deg_true;
  if (now) {
    setText(now, heading_now ? strikeWords.headingNow(Math.round(heading_now.value) % 360) : words.numbers.none);
  }
}
