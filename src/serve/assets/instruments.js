// Instruments: what the boat's own turns show of their errors, and corrections put on by a tap.

import { boat, read, watch } from "./link.js";
import { $, make, rebuild, setText, tell, timeOf } from "./parts.js";

const READ_EVERY_MS = 10000;

/** Texts of this part. */
const instruments = {
  explain: "What the boat's own turns show of the errors of her instruments. An estimate, with how uncertain it is: apply it only if it fits what you see. Nothing is applied by itself.",
  what: { wind_angle: "Wind angle", wind_speed: "Wind speed", log: "Log speed", compass: "Compass", rate_of_turn: "Rate of turn" },
  needs: (by, sigma, turns) => `Reads right with ${by}, give or take ${sigma}; from ${turns} turns`,
  left: (by, sigma, turns) => `Beyond that still ${by}, give or take ${sigma}; from ${turns} turns`,
  chance: "That may be chance: nothing to apply",
  unknown: (why) => `Not known: ${why}`,
  quarters: (by) => `N\u00a0${by[0]}, E\u00a0${by[1]}, S\u00a0${by[2]}, W\u00a0${by[3]}`,
  corrected: (by, time) => `Corrected by ${by} by the crew at ${time}.`,
  other: (talker) => `That is for ${talker}, which is not in use now.`,
  apply: (by) => `APPLY ${by}`,
  remove: "REMOVE CORRECTION",
  applied: "Correction applied",
  removed: "Correction removed",
  caution: (what) => `Caution: ${what}`,
};

/** @type {HTMLElement} */
let place = null;
let estimates = [];
let readAt = -Infinity;
let readWith = "";

const signed = (value, decimals) => `${value < 0 ? "\u2212" : "+"}${Math.abs(value).toFixed(decimals)}`;

/** "+3.1°", "+12 %", "+0.20°/s". */
function amount(value, unit) {
  switch (unit) {
    case "factor":
      return `${signed(100 * (value - 1), 0)}\u00a0%`;
    case "deg_s":
      return `${signed(value, 2)}°/s`;
    default:
      return `${signed(value, 1)}°`;
  }
}

const spread = (value, unit) => amount(unit === "factor" ? 1 + value : value, unit).slice(1);

/** A correction: of the compass on each quarter of the compass card. */
function whole(numbers, unit) {
  const [offset, sine, cosine] = numbers;
  return sine === undefined
    ? amount(offset, unit)
    : instruments.quarters([cosine, sine, -cosine, -sine].map((part) => amount(offset + part, unit)));
}

const put = (what, on) => tell("/v1/crew/correction", { what, on },
  on ? instruments.applied : instruments.removed, true);

function instrument(one) {
  const { unit, terms, corrected } = one;
  const name = instruments.what[one.what];
  const total = whole(terms.map((term) => term.total), unit);
  const left = whole(terms.map((term) => term.left), unit);
  const found = terms.length
    ? (corrected ? instruments.left : instruments.needs)(left, spread(terms[0].sigma, unit), one.turns)
    : instruments.unknown(one.not_known);
  return make("div", { class: "setting", "data-what": one.what },
    make("p", {}, make("b", {}, name), one.talker ? ` (${one.talker})` : ""),
    corrected
      ? make("p", {}, make("b", {}, instruments.corrected(whole(corrected.by, unit), timeOf(corrected.at))),
        corrected.talker === one.talker ? "" : ` ${instruments.other(corrected.talker)}`)
      : null,
    make("p", {}, found),
    terms.length && !one.significant ? make("p", {}, instruments.chance) : null,
    make("p", {}, make("small", {}, instruments.caution(one.caution))),
    one.significant
      ? make("button", { class: "deck strong", type: "button", "data-apply": one.what, on: () => put(one.what, true) },
        instruments.apply(total))
      : null,
    corrected
      ? make("button", { class: "deck", type: "button", "data-remove": one.what, on: () => put(one.what, false) },
        instruments.remove)
      : null);
}

async function ask() {
  const got = await read("/v1/calibration");
  if (!got.problem) {
    estimates = got.estimates;
    show();
  }
}

const show = () => rebuild(place, estimates, () => estimates.map(instrument));

/** Reads anew now and then, and at once when a correction has come or gone. */
function refresh() {
  if (!boat.state) {
    return;
  }
  const corrections = JSON.stringify(boat.state.deck.corrections);
  const now = performance.now();
  if (corrections !== readWith || now - readAt > READ_EVERY_MS) {
    readWith = corrections;
    readAt = now;
    ask();
  }
}

/** Puts the instruments into `element`. @param {HTMLElement} element */
export function startInstruments(element) {
  place = element;
  setText($("instruments-explain"), instruments.explain);
  watch(refresh);
}
