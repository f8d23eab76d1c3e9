// Announcing a turn: side and degrees with one tap, slow or fast with the second.

import { boat, secondsUntil, watch } from "./link.js";
import { make, rebuild, setText, tell, turnWords } from "./parts.js";
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
  for (const button of place.querySelectorAll("[data-rate]")) {
    const rate = Number(button.dataset.rate);
    button.disabled = !choice.by;
    const tooFast = choice.by && limit && (most === null || rate > most);
    setText(button.querySelector("small"), tooFast ? words.turn.tooFast : words.turn.rate(rate));
    button.classList.toggle("risky", Boolean(tooFast));
  }
  const other = limit && Math.abs(Math.abs(choice.by) - limit.for_deg) > 5;
  setText(place.querySelector(".hint"), choice.by
    ? [`${turnWords(choice.by)}.`, words.turn.tell, other ? words.turn.otherTurn(Math.round(limit.for_deg)) : ""].filter(Boolean).join(" ")
    : words.turn.choose);
}

function showAnnounced(announced) {
  const turn = boat.state?.deck.intended_turn;
  const ahead = boat.forecast?.turn;
  rebuild(announced, [turn?.told_at, turn?.by_deg, ahead?.source], () => {
    if (turn) {
      return make("div", { class: "announced" }, make("p", { class: "what" }),
        make("button", { class: "deck", id: "call-off",
          on: () => tell("/v1/crew/turn/call-off", {}, words.said.callOff, true) }, words.turn.callOff));
    }
    return ahead ? make("p", { class: "announced what" }) : null;
  });
  announced.hidden = !announced.firstChild;
  const what = announced.querySelector(".what");
  if (what && turn) {
    const s = Math.round(secondsUntil(turn.starts_at));
    setText(what, `${words.turn.announced(turnWords(turn.by_deg), s)} (${words.turn.source.crew})`);
  } else if (what && ahead) {
    const s = Math.round(ahead.starts_in_s + secondsUntil(boat.forecast.made_at));
    setText(what, `${words.turn.announced(turnWords(ahead.by_deg), s)} (${words.turn.source[ahead.source]})`);
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
