// Announcing a turn: side and degrees with one tap, slow or fast with the second.

import { boat, secondsUntil, watch } from "./link.js";
import { make, rebuild, setText, side, tell, turnWords } from "./parts.js";
import { words } from "./words.js";

const DEGREES = [20, 45, 90, 180];
const RATES = { slow: 1.5, fast: 4 };
const STARTS = [0, 15, 30, 60];

/** The turn being chosen, degrees, + to starboard; 0 for none. */
export const choice = { by: 0, inS: 15 };
const choiceWatchers = new Set();

export function watchChoice(watcher) {
  choiceWatchers.add(watcher);
}

function choose(change) {
  Object.assign(choice, change);
  showChoice();
  for (const watcher of choiceWatchers) {
    watcher();
  }
}

/** A rate as it is shown: the highest that was tried is any usual one. */
export const rateWords = (rate, limit) =>
  (rate >= limit.tried_to_deg_s ? words.turn.anyRate : words.turn.rate(rate.toFixed(1)));

let place = null;

async function announce(rate) {
  const body = { by_deg: choice.by, rate_deg_s: rate, in_s: choice.inS };
  if (await tell("/v1/crew/turn", body, words.said.turn(turnWords(choice.by)), true)) {
    choose({ by: 0 });
  }
}

function pickers() {
  const column = (sign, name) =>
    make("div", { class: "column pairs" }, make("h3", {}, sign < 0 ? `◀ ${name}` : `${name} ▶`),
      ...DEGREES.map((degrees) => make("button", {
        class: "deck turn", "data-turn": sign * degrees,
        "aria-label": turnWords(sign * degrees),
        on: () => choose({ by: choice.by === sign * degrees ? 0 : sign * degrees }),
      }, words.turn.degrees(degrees))));
  return [
    make("div", { class: "sides" }, column(-1, words.turn.port), column(1, words.turn.starboard)),
    make("div", { class: "row starts", role: "group", "aria-label": words.turn.when },
      ...STARTS.map((s) => make("button", { class: "deck start", "data-start": s, on: () => choose({ inS: s }) }, words.turn.inSeconds(s)))),
    make("p", { class: "hint" }),
    make("div", { class: "row" },
      ...Object.entries(RATES).map(([name, rate]) => make("button", {
        class: "deck pace", "data-rate": rate, on: () => announce(rate),
      }, make("b", {}, words.turn[name]), make("small", {})))),
  ];
}

function showChoice() {
  for (const button of place.querySelectorAll("[data-turn]")) {
    button.setAttribute("aria-pressed", String(Number(button.dataset.turn) === choice.by));
  }
  for (const button of place.querySelectorAll("[data-start]")) {
    button.setAttribute("aria-pressed", String(Number(button.dataset.start) === choice.inS));
  }
  const limit = boat.forecast?.turn_limit;
  const most = limit && (choice.by < 0 ? limit.port_deg_s : limit.starboard_deg_s);
  // What a limit says of one turn it does not say of another.
  const applies = limit?.skips && choice.by && Math.abs(choice.by) >= limit.for_deg - 5;
  for (const button of place.querySelectorAll("[data-rate]")) {
    const rate = Number(button.dataset.rate);
    button.disabled = !choice.by;
    const tooFast = applies && (most === null || rate > most);
    setText(button.querySelector("small"), tooFast ? words.turn.tooFast : words.turn.rate(rate));
    button.classList.toggle("risky", Boolean(tooFast || (choice.by && limit && !limit.skips)));
  }
  const other = limit?.skips && Math.abs(Math.abs(choice.by) - limit.for_deg) > 5;
  setText(place.querySelector(".hint"), choice.by
    ? [`${turnWords(choice.by)}.`, words.turn.tell, limit && !limit.skips ? `(${limit.why})` : "",
      other ? words.turn.otherTurn(Math.round(limit.for_deg)) : ""].filter(Boolean).join(" ")
    : words.turn.choose);
}

/** How long after its nominal end a turn counts as made. */
const MADE_AFTER_S = 5;
/** How long that is said. */
const MADE_FOR_S = 45;

/** Seconds since an announced turn was over, negative before; never while it is foreseen. */
function overSince(turn, ahead) {
  const since = -secondsUntil(turn.starts_at) - Math.abs(turn.by_deg) / turn.rate_deg_s - MADE_AFTER_S;
  return ahead?.source === "crew" ? Math.min(since, -1) : since;
}

function showAnnounced(announced) {
  const ahead = boat.forecast?.turn;
  let turn = boat.state?.deck.intended_turn;
  const since = turn ? overSince(turn, ahead) : 0;
  if (since > MADE_FOR_S) {
    turn = null;
  }
  const made = Boolean(turn) && since >= 0;
  rebuild(announced, [turn?.told_at, turn?.by_deg, made, ahead?.source], () => {
    if (turn) {
      return make("div", { class: "announced" }, make("p", { class: "what" }),
        made ? null : make("button", { class: "deck", id: "call-off",
          on: () => tell("/v1/crew/turn/call-off", {}, words.said.callOff, true) }, words.turn.callOff));
    }
    return ahead ? make("p", { class: "announced what" }) : null;
  });
  announced.hidden = !announced.firstChild;
  const what = announced.querySelector(".what");
  const say = (by, s, source) => setText(what, `${turnWords(by)} ${words.turn.comes(s)} (${words.turn.source[source]})`);
  if (what && made) {
    setText(what, `${turnWords(turn.by_deg)}: ${words.turn.made}`);
  } else if (what && turn) {
    say(turn.by_deg, Math.round(secondsUntil(turn.starts_at)), "crew");
  } else if (what && ahead?.source === "under_way") {
    setText(what, words.turn.openEnd(side(ahead.by_deg)));
  } else if (what && ahead) {
    say(ahead.by_deg, Math.round(ahead.starts_in_s + secondsUntil(boat.forecast.made_at)), ahead.source);
  }
}

/** Builds the chooser in `box`, and what is announced in `announced`. */
export function startTurn(box, announced) {
  place = box;
  box.append(...pickers());
  watch(() => {
    showChoice();
    showAnnounced(announced);
  });
}
