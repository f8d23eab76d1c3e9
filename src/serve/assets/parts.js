// Parts that every page uses: elements, units, strip, bar, saying with undo, look.

import { boat, say, silenceSeconds, start, watch } from "./link.js";
import { initNotice, soundLabel, tapSound } from "./notice.js";
import { fillWords, words } from "./words.js";

const UNDO_SECONDS = 10;

/** @param {string} id */
export const $ = (id) => document.getElementById(id);

/** All that match, as a list. @param {string} selector @param {ParentNode} within @returns {HTMLElement[]} */
export const all = (selector, within = document) => Array.from(within.querySelectorAll(selector));

/** An element: make("button", {class: "big"}, "text", child...). `on` is the click handler. */
export function make(tag, attributes, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (name === "on") {
      element.addEventListener("click", value);
    } else if (value !== null && value !== undefined && value !== false) {
      element.setAttribute(name, value === true ? "" : value);
    }
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

/** Sets text only when it differs, so that a screen reader is not woken for nothing. */
export function setText(element, text) {
  if (element.textContent !== text) {
    element.textContent = text;
  }
}

/** Rebuilds an element's children only when `key` differs from the last time. */
export function rebuild(element, key, build) {
  const text = JSON.stringify(key);
  if (element.dataset.key !== text) {
    element.dataset.key = text;
    // What a thumb has opened stays open.
    const open = all("details[open][data-open]", element).map((part) => part.dataset.open);
    element.replaceChildren(...[build()].flat().filter(Boolean));
    for (const part of all("details[data-open]", element)) {
      part.toggleAttribute("open", open.includes(part.dataset.open));
    }
  }
}

const METRES_PER = { m: 1, ft: 0.3048 };
const MPS_PER = { kn: 1852 / 3600, "m/s": 1 };

export const lengthUnit = () => boat.state?.units.length ?? "m";
export const toMetres = (amount) => amount * METRES_PER[lengthUnit()];
export const fromMetres = (metres) => metres / METRES_PER[lengthUnit()];

/** "3 m", "2.5 m", "10 ft": no finer than hands can measure. */
export function length(metres) {
  const amount = fromMetres(metres);
  const step = lengthUnit() === "m" && Math.abs(amount) < 10 ? 0.5 : 1;
  return `${Math.round(amount / step) * step}\u00a0${lengthUnit()}`;
}

/** "3-5 m", "10-16 ft". */
export function range(low, high) {
  const [from, to] = [low, high].map((metres) => length(metres).split("\u00a0")[0]);
  return `${from === to ? from : `${from}-${to}`}\u00a0${lengthUnit()}`;
}

export function speed(mps, unit = boat.state?.units.speed ?? "kn") {
  return `${(mps / MPS_PER[unit]).toFixed(1)} ${unit}`;
}

export const percent = (share) => Math.round(share * 100);
export const side = (degrees) => (degrees < 0 ? words.turn.portSmall : words.turn.starboardSmall);
export const turnWords = (byDeg) => `${words.turn.degrees(Math.round(Math.abs(byDeg)))} ${side(byDeg)}`;

/** The time of day on this phone, with the date when it is another day. */
export function timeOf(moment) {
  const then = new Date(moment);
  const today = then.toDateString() === new Date(boat.state.at).toDateString();
  /** @type {Intl.DateTimeFormatOptions} */
  const time = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
  /** @type {Intl.DateTimeFormatOptions} */
  const date = { ...time, day: "numeric", month: "short", year: "numeric" };
  return today ? then.toLocaleTimeString([], time) : then.toLocaleString([], date);
}

let undoTimer = 0;

/** Shows a sentence above the bar; with a sequence number it can be taken back for 10 s. */
export function announce(text, sequence, bad) {
  const place = $("undo");
  clearInterval(undoTimer);
  let left = sequence === undefined ? 5 : UNDO_SECONDS;
  const label = make("span", { class: "undo-text" });
  const button = make("button", { class: "deck", id: "undo-button", on: () => takeBack(sequence) }, words.undo);
  place.replaceChildren(label, ...(sequence === undefined ? [] : [button]));
  place.classList.toggle("bad", Boolean(bad));
  place.hidden = false;
  const show = () => setText(label, sequence === undefined ? text : words.undoFor(text, left));
  show();
  undoTimer = setInterval(() => {
    left -= 1;
    if (left <= 0) {
      clearInterval(undoTimer);
      place.hidden = true;
    } else {
      show();
    }
  }, 1000);
}

async function takeBack(sequence) {
  const answer = await say("/v1/crew/undo", { sequence });
  report(answer, words.undone, false);
}

/** Shows what became of something that was said; `undoable` offers to take it back. */
export function report(answer, text, undoable) {
  if (answer.problem) {
    announce(words.failed(answer.problem.detail, answer.problem.cure), undefined, true);
  } else {
    announce(text, undoable ? answer.sequence : undefined, false);
  }
}

/** Says something and shows what became of it; `undoable` offers to take it back. */
export async function tell(path, body, text, undoable) {
  const answer = await say(path, body);
  report(answer, text, undoable);
  return !answer.problem;
}

const LOOKS = ["day", "dusk", "night"];

/** A button that wants a second tap within five seconds: what it does cannot be taken back. */
export function twice(text, again, attributes, act) {
  const button = make("button", { class: "deck", type: "button", ...attributes }, text);
  let sure = false;
  button.addEventListener("click", () => {
    if (sure) {
      act();
      return;
    }
    sure = true;
    setText(button, again);
    setTimeout(() => {
      sure = false;
      setText(button, text);
    }, 5000);
  });
  return button;
}

export function setLook(look) {
  document.documentElement.dataset.look = look;
  try {
    localStorage.setItem("look", look);
  } catch {
    // A browser that keeps nothing only forgets the look.
  }
  for (const button of all("[data-look-button]")) {
    button.setAttribute("aria-pressed", String(button.dataset.lookButton === look));
  }
}

/** Three buttons for the look of the pages. */
export function lookButtons() {
  return LOOKS.map((look) =>
    make("button", { class: "deck", "data-look-button": look,
      "aria-pressed": String(document.documentElement.dataset.look === look), on: () => setLook(look) }, words.looks[look]));
}

function showStrip() {
  const { state, status } = boat;
  const root = document.documentElement;
  root.dataset.link = status;
  const mode = $("mode");
  const speedNote = state && state.clock_speed !== 1 ? ` (${words.speed(state.clock_speed)})` : "";
  setText(mode, state ? words.mode[state.mode] + (state.mode === "live" ? "" : speedNote) : "");
  mode.hidden = !mode.textContent;
  const old = words.link[status];
  const link = $("link");
  setText(link, typeof old === "function" ? old(silenceSeconds()) : old);
  link.hidden = !link.textContent;
  const keeps = [[state?.recorder, words.notRecording], [state?.logbook, words.noLogbook]];
  setText($("not-recording"), keeps.flatMap(([now, say]) => now?.state === "failing" ? [say(now.cause)] : []).join("\n"));
  $("not-recording").hidden = !$("not-recording").textContent;
  setText($("sound"), soundLabel());
}

/** The cards for trouble come after the page, and before anybody needs them. */
const CARDS_AFTER_MS = 1500;
const cards = () => import("./trouble.js");

/** What this phone may touch comes after the page, too; without a link it is asked for again. */
const loadPhone = () => import("./phone.js").then(({ startPhone }) => startPhone(), () => setTimeout(loadPhone, CARDS_AFTER_MS));

async function openTrouble() {
  try {
    (await cards()).openTrouble();
  } catch {
    announce(words.failed(words.noAnswer, words.noLinkCure), undefined, true);
  }
}

/** Builds strip and bar, opens the link; `own` are the words of this page alone. Call once a page. */
export function startPage(page, own = {}) {
  document.title = words.title[page];
  fillWords(own);
  const onDeck = page === "mate" || page === "helm";
  // The bar of a page on deck has no room for all.
  const others = Object.keys(words.pages).filter((name) => name !== page && !(onDeck && name === "day"));
  const address = { mate: "/", helm: "/helm", rig: "/rig", day: "/day" };
  const link = (name, text = words.pages[name]) => make("a", { class: "deck", href: address[name] }, text);
  document.body.prepend(
    make("header", { id: "strip" },
      make("h1", { class: "unseen" }, words.title[page]),
      make("p", { id: "mode", hidden: true }),
      make("p", { id: "link", role: "status" }, words.link.connecting),
      make("p", { id: "not-recording", role: "status", hidden: true })));
  document.body.append(
    make("div", { id: "dock" },
      make("div", { id: "undo", role: "status", hidden: true }),
      make("nav", { id: "bar" },
        make("button", { id: "bite", class: "deck",
          on: () => tell("/v1/crew/bite", {}, words.said.bite, true) }, words.bite),
        onDeck ? make("button", { id: "trouble-button", class: "deck", on: openTrouble }, words.trouble) : null,
        make("button", { id: "sound", class: "deck", on: tapSound }, words.sound.arm),
        ...others.map((name) => link(name)))));
  if (onDeck) {
    $("look-buttons").after(make("p", {}, link("day", words.toDays)));
  }
  // Cautions stand where the kite goes up.
  $("before-launch")?.append(make("h2", {}, words.beforeLaunch.title),
    make("ul", {}, ...words.beforeLaunch.points.map((point) => make("li", {}, point))));
  const look = document.documentElement.dataset.look;
  setLook(LOOKS.includes(look) ? look : "day");
  initNotice();
  watch(showStrip);
  start();
  loadPhone();
  if (onDeck) {
    setTimeout(() => cards().catch(() => {}), CARDS_AFTER_MS);
  }
}
