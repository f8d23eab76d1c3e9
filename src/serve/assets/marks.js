// Marks on the helm's page: making one with one or two taps, the picture, the list.

import { boat, remove, watch } from "./link.js";
import { length, make, rebuild, report, setText, side, speed, tell, twice } from "./parts.js";
import { drawPlot } from "./plot.js";
import { markWords } from "./marks_words.js";
import { words } from "./words.js";

/** The hours of a clock around the boat, as they lie on the grid. */
const HOURS = [11, 12, 1, 10, null, 2, 9, 0, 3, 8, null, 4, 7, 6, 5];
const FAR_M = [50, 100, 150, 200, 300, 500, 800, 1500];
const DRIFTS_MPS = [0.15, 0.25, 0.5, 1];

/** What is being chosen: the direction of a mark seen, the point toward which one drifts. */
const chosen = { hour: 0, drift: null };
let bowUp = true;
/** @type {HTMLElement} */
let dial = null;
/** @type {HTMLElement} */
let list = null;
/** @type {HTMLElement} */
let picture = null;

const button = (text, attributes, act) => make("button", { class: "deck", type: "button", ...attributes, on: act }, text);
const offBow = (hour) => ((hour * 30 + 179) % 360) - 179;

function hourWords(hour) {
  const off = offBow(hour);
  return off === 0 ? markWords.ahead : off === 180 ? markWords.astern : markWords.hour(hour, Math.abs(off), side(off));
}

function choose(change) {
  Object.assign(chosen, change);
  show();
}

async function markSeen(range_m) {
  const where = hourWords(chosen.hour);
  const body = { off_bow_deg: offBow(chosen.hour), range_m };
  if (await tell("/v1/crew/mark", body, markWords.said.seen(length(range_m), where), true)) {
    choose({ hour: 0 });
  }
}

function dialParts() {
  const hours = HOURS.map((hour) => (hour
    ? button(String(hour), { "data-hour": hour, "aria-label": hourWords(hour), "aria-pressed": String(chosen.hour === hour) },
      () => choose({ hour: chosen.hour === hour ? 0 : hour }))
    : make("span", { class: "tail" }, hour === 0 ? markWords.bow : "")));
  return [
    make("p", { class: "hint" }, markWords.seenWhere),
    make("div", { class: "compass" }, ...hours),
    chosen.hour ? make("p", { class: "hint" }, markWords.seenFar(hourWords(chosen.hour))) : null,
    chosen.hour ? make("div", { class: "row starts" }, ...FAR_M.map((m) => button(length(m), { class: "deck start", "data-far": m }, () => markSeen(m)))) : null,
  ];
}

function typedPart() {
  const input = (label, id) => make("input", { id, inputmode: "text", autocomplete: "off", placeholder: "0.0000", "aria-label": label });
  const [latitude, longitude] = [input(markWords.latitude, "mark-latitude"), input(markWords.longitude, "mark-longitude")];
  const wrong = make("p", { class: "hint", role: "status" });
  const field = (label, box) => make("label", { class: "field" }, make("span", {}, label), box);
  const save = async () => {
    const [lat, lon] = [latitude, longitude].map((box) => (box.value.trim() ? Number(box.value.trim().replace(",", ".")) : NaN));
    const fits = Math.abs(lat) <= 89 && Math.abs(lon) <= 180;
    setText(wrong, fits ? "" : markWords.bad);
    if (fits && await tell("/v1/crew/mark", { latitude_deg: lat, longitude_deg: lon }, markWords.said.mark, true)) {
      latitude.value = "";
      longitude.value = "";
    }
  };
  return make("details", {}, make("summary", {}, make("b", {}, markWords.typed)),
    field(markWords.latitude, latitude), field(markWords.longitude, longitude), wrong,
    button(markWords.save, { id: "mark-typed", class: "deck strong" }, save));
}

function whereWords({ from_boat: from }) {
  if (!from) {
    return markWords.unplaced;
  }
  const off = from.off_bow_deg;
  return markWords.where(off === null
    ? markWords.bearing(Math.round(from.bearing_deg_true) % 360)
    : markWords.offBow(Math.round(Math.abs(off)), side(off)), length(from.range_m));
}

async function drop(mark) {
  report(await remove(`/v1/crew/mark/${mark.number}`), markWords.said.removed(markWords.name(mark)), true);
}

function changes(mark) {
  const path = `/v1/crew/mark/${mark.number}`;
  const drift = (set, mps) => tell(`${path}/drift`, set === null ? {} : { set_deg_true: Number(set), drift_mps: mps },
    markWords.said.drift(set === null ? "" : markWords.points[set]), true);
  const points = [315, 0, 45, 270, null, 90, 225, 180, 135].map((set) => (set === null
    ? button(markWords.stays, { "data-drift": "none" }, () => drift(null, 0))
    : button(markWords.points[set], { "data-drift": set, "aria-pressed": String(chosen.drift === set) }, () => choose({ drift: set }))));
  const own = mark.number <= 999 && mark.to_fish;
  return [
    ...(own ? [
      make("p", { class: "hint" }, markWords.call),
      make("div", { class: "row few" }, ...markWords.names.map((name) =>
        button(name, { "data-name": name }, () => tell(`${path}/name`, { name }, markWords.said.named(name), true)))),
      make("p", { class: "hint" }, markWords.drifts),
      make("div", { class: "compass" }, ...points),
      chosen.drift === null ? null : make("p", { class: "hint" }, markWords.howFast(markWords.points[chosen.drift])),
      chosen.drift === null ? null : make("div", { class: "row few" }, ...DRIFTS_MPS.map((mps) =>
        button(speed(mps), { "data-mps": mps }, async () => {
          if (await drift(chosen.drift, mps)) {
            choose({ drift: null });
          }
        }))),
    ] : []),
    boat.state.pass === undefined || !mark.to_fish ? null
      : button(markWords.pass, { "data-ask": mark.number, class: "deck strong" }, () => tell("/v1/crew/pass", { said: "ask", mark: mark.number }, markWords.said.asked, true)),
    twice(markWords.remove, markWords.again, { "data-remove": mark.number }, () => drop(mark)),
  ];
}

function row(mark) {
  return make("details", { "data-open": `mark-${mark.number}`, "data-mark": mark.number },
    make("summary", {}, make("b", {}, markWords.name(mark), make("br", {}), make("small", { class: "where" }))),
    make("p", { class: "about" }), ...changes(mark));
}

function about(mark) {
  const { drift } = mark;
  return [
    markWords.source[mark.source],
    words.ago(Math.round(mark.age_s)),
    markWords.doubt(length(mark.sigma_m)),
    drift ? markWords.drift(Math.round(drift.set_deg_true) % 360, speed(drift.drift_mps)) : null,
  ].filter(Boolean).join(", ");
}

function showList(state) {
  const own = state.marks.filter((mark) => mark.number <= 999).reverse();
  const network = state.marks.filter((mark) => mark.number > 999);
  const key = state.marks.map(({ number, name, source }) => [number, name, source]);
  rebuild(list, [key, chosen.drift, state.units], () => [
    state.marks.length ? null : make("p", {}, markWords.none),
    ...own.map(row),
    network.length ? make("h3", { class: "small" }, markWords.network) : null,
    ...network.map(row),
  ]);
  for (const mark of state.marks) {
    const part = list.querySelector(`[data-mark="${mark.number}"]`);
    setText(part.querySelector(".where"), whereWords(mark));
    setText(part.querySelector(".about"), about(mark));
  }
}

function showPicture(state) {
  const known = Boolean(state.vessel.position);
  picture.hidden = false;
  if (known) {
    drawPlot(picture, state, bowUp);
  } else {
    setText(picture, markWords.plot.none);
  }
}

function show() {
  const { state } = boat;
  rebuild(dial, [chosen.hour, state?.units], dialParts);
  if (state) {
    showList(state);
    showPicture(state);
  }
}

function look() {
  const turn = button("", { id: "plot-up" }, () => {
    bowUp = !bowUp;
    name();
    show();
  });
  const name = () => setText(turn, bowUp ? markWords.plot.north : markWords.plot.head);
  name();
  return turn;
}

/** Builds the marks in `place`. @param {HTMLElement} place */
export function startMarks(place) {
  dial = make("div", { id: "mark-dial" });
  picture = make("div", { id: "plot", class: "live drawing" });
  list = make("div", { id: "mark-list", class: "live" });
  place.append(
    make("h2", {}, markWords.plot.title),
    button(markWords.here, { id: "mark-here", class: "deck strong" }, () => tell("/v1/crew/mark", {}, markWords.said.mark, true)),
    make("details", { id: "mark-seen" }, make("summary", {}, make("b", {}, markWords.seen)), dial),
    picture,
    make("p", {}, make("small", {}, markWords.plot.chart)),
    look(),
    list,
    typedPart());
  watch(show);
}
