// Set-up: every setting with what it is, its range and where to measure it; saved by group.

import { boat, put, read, watch } from "./link.js";
import { announce, make, setText, speed, twice } from "./parts.js";
import { rigWords } from "./rig_words.js";
import { words } from "./words.js";

const KILOGRAM_FORCE_N = 9.80665;
const POUND_KG = 0.45359237;
/** Lengths up to this are shown in inches to a crew that thinks in feet. */
const SMALL_M = 1.5;

let place = null;
let keptPlace = null;
let answer = null;
let seen = "";

const structures = () => [...answer.structures, answer.next_structure].filter(Boolean);
const entries = () => [...answer.settings, ...structures().flatMap((structure) => structure.settings)];
const OTHER_END = ".to.";
/** Whether a key belongs to a structure, whose number changes when one before it goes. */
const isStructure = (key) => structures().some((structure) => key.startsWith(structure.key));

/** Unit shown for an entry, and its size in the unit of the key. */
function shownIn(entry) {
  const { length, weight } = answer.units;
  const feet = length === "ft";
  switch (entry.unit) {
    case "m":
      return feet ? (entry.range[1] <= SMALL_M ? ["in", 0.0254] : ["ft", 0.3048]) : ["m", 1];
    case "m/s":
      return feet ? ["ft/s", 0.3048] : ["m/s", 1];
    case "kg":
      return weight === "lb" ? ["lb", POUND_KG] : ["kg", 1];
    case "N":
      return weight === "lb" ? ["lb", POUND_KG * KILOGRAM_FORCE_N] : ["kg", KILOGRAM_FORCE_N];
    case "lbf":
      return ["lb", 1];
    default:
      return [entry.unit, 1];
  }
}

const tidy = (number) => Number(number.toPrecision(4));

/** "6-14 kn" under a size of kite. */
const windOf = (wind) => (wind
  ? make("small", {}, `${wind.map((mps) => speed(mps, answer.units.speed).split(" ")[0].replace(/\.\d$/, "")).join("-")}\u00a0${answer.units.speed}`)
  : null);

function field(entry) {
  if (entry.words.length) {
    return make("div", { class: "row few", role: "group", "aria-label": entry.name },
      ...entry.words.map((word, i) => make("button", {
        class: "deck", type: "button", "data-choice": word, "aria-pressed": String(entry.value === word),
        on: () => send([entry.key], { [entry.key]: word }, rigWords.setUp.saved),
      }, make("span", {}, word), windOf(entry.words_wind_mps[i]))));
  }
  const [unit, size] = entry.longest ? ["", 1] : shownIn(entry);
  const shown = entry.value === null ? "" : entry.longest ? entry.value : String(tidy(entry.value / size));
  const own = entry.grade === "own";
  const input = make("input", {
    type: "text", inputmode: entry.longest || entry.range[0] < 0 ? "text" : "decimal", autocomplete: "off",
    maxlength: entry.longest, class: entry.longest ? "words" : null,
    value: own ? shown : "", placeholder: own ? "" : shown, "data-shown": own ? shown : "",
    "aria-describedby": `about-${entry.key}`,
  });
  input.addEventListener("input", count);
  return make("label", { class: "field" },
    make("span", { class: "name" }, entry.name), input, make("span", { class: "unit-of" }, unit));
}

function setting(entry) {
  const [unit, size] = entry.range ? shownIn(entry) : ["", 1];
  const range = entry.range && rigWords.setUp.range(tidy(entry.range[0] / size), tidy(entry.range[1] / size), unit);
  return make("div", { class: "setting", "data-key": entry.key },
    entry.words.length ? make("p", { class: "name" }, entry.name) : null,
    field(entry),
    make("p", { class: "wrong", role: "alert", hidden: true }),
    make("p", { id: `about-${entry.key}` },
      make("b", { class: entry.grade }, rigWords.setUp.grade[entry.grade]),
      range ? `, ${range}. ` : ". ",
      make("small", {}, entry.explanation)),
    entry.optional && entry.grade === "own" && !entry.words.length && !entry.key.includes(OTHER_END)
      ? make("button", { class: "deck", type: "button", "data-out": entry.key,
        on: () => send([entry.key], { [entry.key]: null }, (entry.estimated ? rigWords.setUp.forgotten : rigWords.setUp.cleared)(entry.name)) },
      entry.estimated ? rigWords.setUp.forget : rigWords.setUp.clear)
      : null);
}

const input = (key) => /** @type {HTMLInputElement} */ (place.querySelector(`[data-key="${key}"] input`));
const isChanged = (key) => Boolean(input(key)) && input(key).value.trim() !== input(key).dataset.shown;

function group(name, entries, open) {
  const own = entries.filter((entry) => entry.grade === "own").length;
  const keys = entries.map((entry) => entry.key);
  return make("details", { "data-group": name, open },
    make("summary", {}, make("b", {}, name), make("small", {}, rigWords.setUp.count(own, entries.length))),
    ...entries.map(setting),
    entries.some((entry) => !entry.words.length)
      ? make("button", { class: "deck strong save", type: "button", on: () => save(keys, rigWords.setUp.saved) }, rigWords.setUp.save)
      : null);
}

function structure({ key, settings }, open) {
  const keys = settings.map((entry) => entry.key);
  const isNew = key === answer.next_structure?.key;
  const name = isNew ? rigWords.structures.add : settings[0].value;
  const ended = settings.some((entry) => entry.key.includes(OTHER_END) && entry.grade === "own");
  return make("details", { "data-group": key, open, class: isNew ? "new" : null },
    make("summary", {}, make("b", {}, name), isNew ? null : make("small", {}, ended ? rigWords.structures.bar : rigWords.structures.point)),
    ...settings.map(setting),
    make("button", { class: "deck strong save", type: "button", "data-add": isNew,
      on: () => save(keys, isNew ? rigWords.structures.added : rigWords.setUp.saved) }, rigWords.setUp.save),
    isNew ? null : twice(rigWords.structures.takeOut(name), rigWords.structures.again, { "data-take-out": key },
      () => send([key], { [key]: null }, rigWords.structures.gone(name))));
}

function structureGroup(open) {
  const { structures: list, next_structure: next } = answer;
  return make("details", { "data-group": "structures", open: open.has("structures") },
    make("summary", {}, make("b", {}, rigWords.structures.title), make("small", {}, rigWords.structures.count(list.length))),
    make("p", {}, list.length || next ? rigWords.structures.explain : rigWords.structures.byHand),
    ...structures().map((one) => structure(one, open.has(one.key))));
}

function build() {
  const open = new Set(Array.from(place.querySelectorAll("details[open]"), (part) => part.getAttribute("data-group")));
  const groups = new Map();
  for (const entry of answer.settings) {
    groups.set(entry.group, [...(groups.get(entry.group) ?? []), entry]);
  }
  place.replaceChildren(
    ...Array.from(groups, ([name, entries]) => group(name, entries, open.has(name))),
    structureGroup(open));
  const { kept } = answer;
  setText(keptPlace, kept.in === "file" ? rigWords.setUp.file(kept.path, kept.previous) : rigWords.setUp.memory);
  count();
}

/** Marks what was typed and not saved, and says it on the group's button. */
function count() {
  for (const part of place.querySelectorAll("[data-key]")) {
    part.classList.toggle("changed", isChanged(part.getAttribute("data-key")));
  }
  for (const part of place.querySelectorAll("details")) {
    const button = /** @type {HTMLButtonElement} */ (part.querySelector(":scope > .save"));
    if (button) {
      const changed = part.querySelectorAll(":scope > .changed").length;
      button.disabled = !changed;
      setText(button, "add" in button.dataset ? rigWords.structures.addNow(changed) : rigWords.setUp.saveCount(changed));
    }
  }
}

function complain(key, text) {
  // A complaint about a whole end stands at its first part.
  const wrong = place.querySelector(`[data-key="${key}"] .wrong`) ?? place.querySelector(`[data-key^="${key}."] .wrong`);
  if (wrong) {
    wrong.hidden = !text;
    setText(wrong, text);
  }
  return Boolean(wrong);
}

function save(keys, said) {
  const changes = {};
  let good = true;
  for (const key of keys.filter(isChanged)) {
    const entry = entries().find((one) => one.key === key);
    const typed = input(key).value.trim();
    const text = typed.replace(",", ".");
    const value = text === "" && entry.optional ? null : entry.longest ? typed : Number(text || NaN) * shownIn(entry)[1];
    if (Number.isNaN(value)) {
      complain(key, rigWords.setUp.needsNumber);
      good = false;
    }
    changes[key] = value;
  }
  // The other end goes as one.
  const end = Object.keys(changes).filter((key) => key.includes(OTHER_END) && changes[key] === null);
  if (end.length && keys.filter((key) => key.includes(OTHER_END)).every((key) => !input(key).value.trim())) {
    end.forEach((key) => delete changes[key]);
    changes[end[0].slice(0, end[0].lastIndexOf("."))] = null;
  }
  if (good) {
    send(keys, changes, said);
  } else {
    announce(rigWords.setUp.refused, undefined, true);
  }
}

async function send(keys, changes, said) {
  for (const wrong of /** @type {NodeListOf<HTMLElement>} */ (place.querySelectorAll(".wrong"))) {
    wrong.hidden = true;
  }
  const got = await put("/v1/settings", changes);
  if (!got.problem) {
    // What was typed elsewhere and is not saved stays, but for structures that moved up.
    const moved = keys.some((key) => structures().some((one) => one.key === key));
    const others = entries().map((entry) => entry.key)
      .filter((key) => !keys.includes(key) && isChanged(key) && !(moved && isStructure(key)));
    const typed = others.map((key) => [key, input(key).value]);
    answer = got;
    seen = stamp();
    build();
    for (const [key, value] of typed) {
      const place = input(key);
      if (place) {
        place.value = value;
      }
    }
    if (moved) {
      closeStructures();
    }
    count();
    announce(said, undefined, false);
    return;
  }
  const marked = (got.problem.keys ?? []).filter((wrong) => complain(wrong.key, inTheirUnits(wrong)));
  if (marked.length && marked.length === got.problem.keys.length) {
    announce(rigWords.setUp.refused, undefined, true);
    showWrong();
  } else {
    announce(words.failed(got.problem.detail, got.problem.cure), undefined, true);
  }
}

/** Opens whatever holds a complaint, and shows the first. */
function showWrong() {
  const wrongs = Array.from(place.querySelectorAll(".wrong:not([hidden])"));
  for (const wrong of wrongs) {
    for (let part = wrong.closest("details"); part; part = part.parentElement.closest("details")) {
      part.open = true;
    }
  }
  wrongs[0]?.scrollIntoView({ block: "center" });
}

function closeStructures() {
  for (const part of place.querySelectorAll("details details")) {
    part.removeAttribute("open");
  }
}

/** A range is said in the units of the page; anything else as it came. */
function inTheirUnits({ key, problem, cure, range }) {
  const entry = entries().find((one) => one.key === key);
  if (entry && range) {
    const [unit, size] = shownIn(entry);
    return `must be ${rigWords.setUp.range(tidy(range[0] / size), tidy(range[1] / size), unit)}`;
  }
  return cure ? `${problem}: ${cure}` : problem;
}

const stamp = () => String(boat.state?.settings_revision);

async function load() {
  const got = await read("/v1/settings");
  if (got.problem) {
    setText(keptPlace, rigWords.setUp.unread(got.problem.detail));
    seen = "";
  } else if (JSON.stringify(got) === JSON.stringify(answer)) {
    return;
  } else if (place.querySelector(".changed")) {
    setText(keptPlace, rigWords.setUp.elsewhere);
  } else {
    answer = got;
    build();
  }
}

/** Shows the settings in `groups`, and where they are kept in `kept`. */
export function startSetUp(groups, kept) {
  place = groups;
  keptPlace = kept;
  watch(() => {
    // Whatever ran before a lost link may have been another program.
    if (boat.status !== "live") {
      seen = "";
    } else if (seen !== stamp()) {
      seen = stamp();
      load();
    }
  });
}
