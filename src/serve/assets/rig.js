// The rig's page: lines out, set-up, the rig as the model takes it, feeds with rates and ages.

import { startBefore } from "./before.js";
import { boat, secondsUntil, watch } from "./link.js";
import { startLaunch } from "./launch.js";
import { startLocker } from "./locker.js";
import { $, fromMetres, lengthUnit, lookButtons, make, rebuild, setText, startPage, tell, toMetres, twice } from "./parts.js";
import { startSetUp } from "./setup.js";
import { rigWords } from "./rig_words.js";
import { words } from "./words.js";

const LINES = ["kite", "main"];

/** The field for the length of a line. @param {string} line @returns {HTMLInputElement} */
const field = (line) => document.querySelector(`#out-${line}`);

function startDeck() {
  $("deck-form").append(
    ...LINES.map((line) => make("label", { class: "field" },
      make("span", {}, rigWords.deck[line]),
      make("input", { id: `out-${line}`, type: "number", inputmode: "decimal", min: 0, step: "any" }),
      make("span", { class: "unit" }))),
    make("button", { class: "deck strong", id: "set-lines", on: setLines }, rigWords.deck.set),
    make("p", { id: "deck-hint", role: "status" }));
}

async function setLines() {
  const body = {};
  for (const line of LINES) {
    const text = field(line).value.trim();
    if (text) {
      body[`${line}_line_out_m`] = toMetres(Number(text));
    }
  }
  setText($("deck-hint"), Object.keys(body).length ? "" : rigWords.deck.empty);
  if (Object.keys(body).length && (await tell("/v1/crew/lines-out", body, words.said.out, true))) {
    for (const line of LINES) {
      field(line).value = "";
    }
  }
}

function showDeck(state) {
  for (const element of document.querySelectorAll(".unit")) {
    setText(element, lengthUnit());
  }
  for (const line of LINES) {
    const out = state?.deck[`${line}_line_out_m`];
    field(line).placeholder = out === null || out === undefined ? words.lines.unknown : String(Math.round(fromMetres(out) * 10) / 10);
  }
}

let asked = "";

/** What was out before a restart and is asked for now stands in the fields, to be corrected. */
function fillAsked(restored) {
  const ask = restored && !restored.used ? restored.as_of : "";
  if (ask === asked) {
    return;
  }
  asked = ask;
  for (const line of ask ? LINES : []) {
    const out = restored[`${line}_line_out_m`];
    if (out !== null && !field(line).value) {
      field(line).value = String(Math.round(fromMetres(out) * 10) / 10);
    }
  }
}

function showJournal({ journal }) {
  $("journal").hidden = journal.state !== "failing";
  setText($("journal"), journal.state === "failing" ? words.before.notKept(journal.cause) : "");
}

function startLearnt() {
  $("learnt-forget").append(twice(rigWords.learnt.forget, rigWords.learnt.again, { id: "forget" },
    () => tell("/v1/crew/forget", {}, rigWords.learnt.forgotten, false)));
}

function showLearnt({ learnt, learnt_trouble: trouble }) {
  setText($("learnt-trouble"), trouble ? rigWords.learnt.trouble(trouble) : "");
  $("learnt-trouble").hidden = !trouble;
  setText($("learnt-now"), learnt ? rigWords.learnt.now(learnt.reports, learnt.age_s) : rigWords.learnt.nothing);
  $("learnt-forget").hidden = !learnt;
}

function table(heads, rows) {
  return make("table", {},
    make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col" }, head)))),
    make("tbody", {}, ...rows.map((row) => make("tr", {}, ...row.map((cell, i) => make("td", { "data-head": heads[i] }, cell))))));
}

function showRig(state) {
  rebuild($("rig-table"), state.rig, () => (state.rig.length
    ? make("dl", {}, ...state.rig.flatMap((entry) => [
      make("dt", {}, entry.name, " ", make("small", {}, `(${entry.part}: ${entry.key})`)),
      make("dd", {}, make("b", {}, `${entry.value}\u00a0${entry.unit}`), make("small", {}, ` ${words.numbers.grade[entry.grade]}`)),
    ]))
    : make("p", {}, rigWords.rigPage.none)));
}

function showFeeds(state) {
  const heads = [rigWords.rigPage.feed, rigWords.rigPage.link, rigWords.rigPage.rate, rigWords.rigPage.age, rigWords.rigPage.accepted, rigWords.rigPage.refused, rigWords.rigPage.kinds];
  const rows = state.feeds.map((feed) => [
    feed.name,
    feed.link ?? rigWords.rigPage.noLink,
    feed.rate_hz.toFixed(1),
    feed.last_age_s === null ? rigWords.rigPage.never : words.age(feed.last_age_s),
    String(feed.accepted),
    Object.entries(feed.refused).map(([cause, count]) => `${words.cause[cause] ?? cause}:\u00a0${count}`).join("; ") || "0",
    Object.keys(feed.kinds).join(" "),
  ]);
  rebuild($("feeds-table"), rows, () => (rows.length ? table(heads, rows) : make("p", {}, rigWords.rigPage.noFeeds)));
}

/** The cause of a failure stands at the top of every page. */
function recordingNow({ state, file, since }) {
  const forS = since ? Math.max(0, -secondsUntil(since)) : 0;
  switch (state) {
    case "recording":
      return rigWords.recording.file(file, forS);
    case "failing":
      return rigWords.recording.failingFor(forS);
    default:
      return rigWords.recording[state];
  }
}

function showRecording({ recorder }) {
  setText($("recording-now"), recordingNow(recorder));
  setText($("recording-counts"), recorder.state === "off" ? ""
    : rigWords.recording.counts(recorder.lines, recorder.lost_lines, recorder.waiting_lines, recorder.deleted_files));
}

const AGAIN_MS = 5000;

function loadInstruments() {
  import("./instruments.js").then((part) => part.startInstruments($("instruments-now")), () => setTimeout(loadInstruments, AGAIN_MS));
}

function show() {
  const { state } = boat;
  showDeck(state);
  if (state) {
    fillAsked(state.deck.restored);
    showJournal(state);
    showLearnt(state);
    showRig(state);
    showFeeds(state);
    import("./sources.js").then((part) => part.showSources(state), () => {});
    showRecording(state);
    import("./outlets.js").then((part) => part.show(state), () => {});
    setText($("version"), rigWords.rigPage.version(state.version));
  }
}

startPage("rig", rigWords);
startDeck();
startBefore($("before"));
startLearnt();
loadInstruments();
startLocker($("locker"));
startLaunch($("launch"));
startSetUp($("groups"), $("kept"));
$("look-buttons").append(...lookButtons());
watch(show);
