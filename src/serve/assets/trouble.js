// Cards for when it goes wrong: what to do first, then this boat's numbers where they are known.
// They are loaded ahead, so that they open without a link too.

import { pressing } from "./advice.js";
import { boat, read, watch } from "./link.js";
import { length, make, rebuild, setText, speed, tell } from "./parts.js";
import { deckWords } from "./deck_words.js";
import { words } from "./words.js";

const KILOGRAM_FORCE_N = 9.80665;
const POUND_KG = 0.45359237;

/** @type {HTMLDialogElement} */
let dialog = null;
/** @type {HTMLElement} */
let body = null;
/** @type {HTMLElement} */
let note = null;
let card = "";
/** Today's rig and the settings, as read last. */
let today = null;
let hands = null;

/** A load as the crew thinks of it. */
function load(newtons) {
  const unit = boat.state?.units.weight ?? "kg";
  return `${Math.round(newtons / KILOGRAM_FORCE_N / (unit === "lb" ? POUND_KG : 1))}\u00a0${unit}`;
}

/** A value of the rig by its part and key; `null` when it is not set. */
function ofRig(part, key) {
  const found = boat.state?.rig.find((entry) => entry.part === part && entry.key === key);
  return found ? Number(found.value) : null;
}

function lines(deck) {
  const out = (m) => (m === null || m === undefined ? deckWords.trouble.unknown : length(m));
  return deckWords.trouble.lines(out(deck?.kite_line_out_m), out(deck?.main_line_out_m));
}

function windIn(kiteM) {
  const pace = hands && hands.perCrank * hands.perSecond;
  return kiteM && pace ? deckWords.trouble.windIn(length(kiteM), words.age(kiteM / pace)) : "";
}

/** The winds in which the kite that flies keeps its line up and its parts whole. */
function winds(which) {
  const { trouble } = deckWords;
  if (!today) {
    return trouble.working;
  }
  const [flown] = today.kites;
  if (!flown.range) {
    return trouble.noWinds(flown.cannot ?? today.why);
  }
  const { least_wind_mps, below, greatest_wind_mps, above } = flown.range;
  if (which === "least") {
    return least_wind_mps > 0 && below ? trouble.least(speed(least_wind_mps), below) : trouble.ownSpeed;
  }
  return above ? trouble.greatest(speed(greatest_wind_mps), above) : trouble.noGreatest(speed(greatest_wind_mps));
}

/** One number of a card in words; empty where it is not known. */
const NUMBERS = {
  lines: () => lines(boat.state?.deck),
  clip() {
    const out = boat.state?.deck.kite_line_out_m;
    const clip = ofRig("kite line", "clip_to_kite_m");
    return out && clip !== null && out > clip ? deckWords.trouble.clip(length(out - clip)) : "";
  },
  windIn: () => windIn(boat.state?.deck.kite_line_out_m),
  lineHolds() {
    const n = ofRig("kite line", "strength_n");
    return n ? deckWords.trouble.lineHolds(load(n)) : "";
  },
  holderHolds() {
    const n = ofRig("rod holder", "strength_n");
    return n ? deckWords.trouble.holderHolds(load(n)) : "";
  },
  wind() {
    const wind = boat.state?.vessel.wind_statistics;
    return wind ? deckWords.trouble.wind(speed(wind.mean_mps), speed(wind.gust_mps)) : "";
  },
  least: () => winds("least"),
  greatest: () => winds("greatest"),
  best: () => (today?.best && today.best !== today.kites[0].name ? deckWords.trouble.best(today.best) : ""),
  near() {
    const near = boat.forecast?.clearances ?? [];
    return near.length ? deckWords.trouble.near([...new Set(near.map(({ structure }) => structure))].join(", "), length(near[0].clearance_m)) : "";
  },
};

const button = (text, attributes, act) => make("button", { class: "deck", type: "button", ...attributes, on: act }, text);

function open(name) {
  card = name;
  show();
  dialog.scrollTo(0, 0);
}

function list() {
  const { cards } = deckWords.trouble;
  return [make("div", { class: "row cards" }, ...Object.entries(cards).map(([name, { title }]) =>
    button(title, { "data-card": name }, () => open(name))))];
}

function one({ title, first, steps, numbers, mark }) {
  const { trouble } = deckWords;
  return [
    make("p", { class: "title" }, title),
    make("p", { class: "verb sentence" }, first),
    mark ? button(trouble.markPlace, { id: "trouble-mark" }, () => tell("/v1/crew/mark", { name: mark }, words.said.mark, true)) : null,
    make("ol", { class: "steps" }, ...steps.map((step) => make("li", {}, step))),
    make("ul", {}, ...numbers.map((name) => NUMBERS[name]()).filter(Boolean).map((text) => make("li", {}, text))),
    make("p", { class: "caution" }, trouble.defer),
  ];
}

function show() {
  if (!dialog?.open) {
    return;
  }
  const { trouble } = deckWords;
  const shown = trouble.cards[card];
  const alarm = pressing(boat.state);
  setText(note, alarm?.priority === "alarm" ? trouble.alarm(alarm.title)
    : boat.status === "lost" || boat.status === "stuck" ? trouble.old : "");
  note.hidden = !note.textContent;
  const numbers = (shown?.numbers ?? []).map((name) => NUMBERS[name]());
  rebuild(body, [card, numbers], () => (shown ? one(shown) : list()));
  dialog.querySelector("#trouble-back").toggleAttribute("hidden", !shown);
}

/** Reads what the numbers come from; what was read before stays without a link. */
async function readNumbers() {
  const [rig, settings] = await Promise.all([read("/v1/rig"), read("/v1/settings")]);
  today = rig.problem ? today : rig;
  if (!settings.problem) {
    const value = (key) => Number(settings.settings.find((entry) => entry.key === `forecast.hands.${key}`)?.value);
    hands = { perCrank: value("kite_m_per_crank"), perSecond: value("kite_cranks_per_s") };
  }
  show();
}

function build() {
  const { trouble } = deckWords;
  note = make("p", { class: "hint", role: "status", hidden: true });
  body = make("div", { id: "trouble-card" });
  dialog = make("dialog", { id: "trouble-cards", "aria-label": trouble.title },
    make("div", { class: "row few" },
      button(trouble.back, { id: "trouble-back", hidden: true }, () => open("")),
      button(trouble.close, { id: "trouble-close" }, () => dialog.close())),
    note, body);
  document.body.append(dialog);
  watch(show);
}

/** Opens the list of cards. */
export function openTrouble() {
  if (!dialog) {
    build();
  }
  card = "";
  dialog.showModal();
  show();
  readNumbers();
}
