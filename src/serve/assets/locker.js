// Today's rig: which kite and tackle suit the wind, measured or typed in the harbour.

import { boat, read, watch } from "./link.js";
import { length, lengthUnit, make, rebuild, setText, speed } from "./parts.js";
import { rigWords } from "./rig_words.js";
import { kilograms, newtons, weightUnit } from "./weights.js";

const FIELDS = ["wind", "gust", "speed"];
const MPS_PER = { kn: 1852 / 3600, "m/s": 1 };

/** @type {HTMLElement} */
let result = null;
/** @type {HTMLElement} */
let hint = null;
let today = null;

const speedUnit = () => boat.state?.units.speed ?? "kn";

/** @param {string} name @returns {HTMLInputElement} */
const field = (name) => document.querySelector(`#locker-${name}`);

/** A number of a check in the crew's units. */
function amount(value, unit) {
  const tidy = (number) => String(Number(number.toPrecision(3)));
  switch (unit) {
    case "m":
      return length(value);
    case "kg":
      return kilograms(value);
    case "N":
      return newtons(value);
    case "deg":
      return `${Math.round(value)}°`;
    case "share":
      return `${Math.round(value * 100)}\u00a0%`;
    default:
      return `${tidy(value)}\u00a0${unit}`;
  }
}

const known = (value) => value !== null && value !== undefined;

function bounds({ least, most, unit }) {
  const { locker } = rigWords;
  if (known(least) && known(most)) {
    return locker.between(amount(least, unit), amount(most, unit));
  }
  if (known(least)) {
    return locker.atLeast(amount(least, unit));
  }
  return known(most) ? locker.atMost(amount(most, unit)) : "";
}

function check(one) {
  const { locker } = rigWords;
  const value = known(one.value) ? amount(one.value, one.unit) : "";
  const numbers = [value, bounds(one)].filter(Boolean).join(", ");
  const change = one.change && (one.verdict === "unknown" ? locker.needed : locker.change)(one.change.what,
    one.change.to ? amount(one.change.to.value, one.change.to.unit) : "", one.change.instead.join(", "));
  return make("div", { class: "setting" },
    make("p", {}, make("b", {}, locker.verdict[one.verdict]), ` ${one.what} (${one.part})${numbers ? `: ${numbers}` : ""}`),
    change ? make("p", {}, change) : null,
    make("p", {}, make("small", {}, locker.sources(one.value_from, one.bounds_from))));
}

function kite(one, best) {
  const { locker } = rigWords;
  const line = (m) => (known(m) ? length(m) : locker.noLength);
  const { range } = one;
  return make("details", { "data-kite": one.name, open: one.name === best },
    make("summary", {}, make("b", {}, `${one.name}: ${locker.verdict[one.verdict]}`)),
    make("p", {}, one.cannot ?? locker.kite(Math.round(one.elevation_deg), Math.round(one.off_astern_deg),
      line(one.main_line_m), line(one.gust_main_line_m))),
    make("p", {}, range
      ? locker.winds(speed(range.least_wind_mps), range.below || locker.ownSpeed, speed(range.greatest_wind_mps), range.above || locker.nothingFails)
      : locker.noWinds),
    ...one.checks.map(check));
}

function swap(one) {
  const { locker } = rigWords;
  const how = one.cannot ?? locker.swapped(Math.round(one.elevation_deg), length(one.main_line_m));
  return make("p", {}, make("b", {}, locker.verdict[one.verdict]), ` ${locker.swap(one.place, one.name)}: ${how}`);
}

function report() {
  const { locker } = rigWords;
  const { day, origin, best } = today;
  const assumed = Object.keys(locker.origin).filter((key) => origin[key] === "assumed").map((key) => locker.origin[key]);
  return [
    make("p", {}, locker.day(speed(day.wind_mps), speed(day.gust_mps), speed(today.lull_mps), speed(day.speed_mps)),
      "; ", locker.course(Math.round(day.off_bow_deg), length(day.kite_line_out_m))),
    assumed.length ? make("p", { class: "hint" }, locker.assumed, assumed.join(", ")) : null,
    make("p", { id: "locker-best" }, make("b", {}, best ? locker.best(best, today.why) : locker.none(today.why))),
    ...today.kites.map((one) => kite(one, best)),
    make("details", { "data-tackle": true },
      make("summary", {}, make("b", {}, locker.tackle)),
      ...today.tackle.map(check)),
    today.swaps.length
      ? make("details", {}, make("summary", {}, make("b", {}, locker.swaps)), ...today.swaps.map(swap))
      : null,
  ];
}

function show() {
  for (const unit of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("#locker .speed-unit"))) {
    setText(unit, speedUnit());
  }
  rebuild(result, [today, speedUnit(), weightUnit(), lengthUnit()], () => (today ? report() : []));
}

async function ask() {
  const { locker } = rigWords;
  const asked = new URLSearchParams();
  for (const name of FIELDS) {
    const text = field(name).value.trim().replace(",", ".");
    if (text && !Number.isFinite(Number(text))) {
      setText(hint, `${locker.fields[name]}: ${locker.numbers}`);
      return;
    }
    if (text) {
      asked.set(`${name}_mps`, String(Number(text) * MPS_PER[speedUnit()]));
    }
  }
  setText(hint, locker.working);
  const got = await read(`/v1/rig?${asked}`);
  if (got.problem) {
    setText(hint, locker.failed(got.problem.detail, got.problem.cure));
    return;
  }
  setText(hint, "");
  today = got;
  // The launch is worked out for the same day.
  document.querySelector("#locker").setAttribute("data-asked", `?${asked}`);
  show();
}

/** Puts the check of today's rig into `place`. @param {HTMLElement} place */
export function startLocker(place) {
  const { locker } = rigWords;
  hint = make("p", { class: "hint", role: "status" });
  result = make("div", { id: "locker-result" });
  place.append(
    make("h2", {}, locker.title),
    make("p", {}, locker.explain),
    ...FIELDS.map((name) => make("label", { class: "field" },
      make("span", {}, locker.fields[name]),
      make("input", { id: `locker-${name}`, type: "text", inputmode: "decimal", autocomplete: "off" }),
      make("span", { class: "speed-unit" }))),
    make("button", { class: "deck strong", type: "button", id: "locker-check", on: ask }, locker.check),
    hint, result);
  watch(show);
}
