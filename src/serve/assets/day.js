// The day page: what happened on a day of the logbook, and its figures. Today's goes on by itself.

import { boat, read, watch } from "./link.js";
import { $, announce, lookButtons, make, rebuild, setText, startPage } from "./parts.js";
import { advice, headline, hours, kites, lists, rates, sailing } from "./day_parts.js";
import { drawTimeline, drawTrack } from "./day_plots.js";
import { dayWords } from "./day_words.js";
import { words } from "./words.js";

/** A day that ended no longer ago than this goes on. */
const RUNS_WITHIN_S = 600;
const REFRESH_MS = 15000;
const HOUR_MS = 3600000;
/** Marks that the crew made. */
const OF_CREW = ["here", "by_eye", "typed"];
/** A phone so near to the ship's hours is aboard. */
const ABOARD_H = 2;

/** The list of days, latest first; the day that is shown. */
let found = [];
let shown = null;

const wanted = () => new URLSearchParams(location.search).get("day");

/** Which clock tells the times of a day: how far ahead of UTC, and whether it is this phone's. */
function clockOf(figures) {
  const phone = -new Date(figures.from ?? Date.now()).getTimezoneOffset() / 60;
  const aboard = Math.abs(phone - figures.zone_hours) <= ABOARD_H;
  return { shiftMs: (aboard ? phone : figures.zone_hours) * HOUR_MS, aboard };
}

/** "14:03" */
const told = (at, shiftMs) => new Date((typeof at === "number" ? at : Date.parse(at)) + shiftMs).toISOString().slice(11, 16);

const dateText = (day) => new Date(`${day}T00:00:00Z`)
  .toLocaleDateString([], { weekday: "short", day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });

function choose(day) {
  const at = found.findIndex((one) => one.day === day);
  const neighbour = (link, one) => {
    link.toggleAttribute("aria-disabled", !one);
    if (one) {
      link.setAttribute("href", `/day?day=${one.day}`);
    } else {
      link.removeAttribute("href");
    }
  };
  neighbour($("later"), found[at - 1]);
  neighbour($("earlier"), found[at + 1]);
  setText($("date"), dateText(day));
  rebuild($("day-list"), [found, day], () => found.map((one) => make("a", { class: "deck", href: `/day?day=${one.day}`, "aria-current": one.day === day ? "date" : null },
    dateText(one.day), make("small", {}, dayWords.day.fished(hours(one.fishing_s), one.bites)))));
  $("chooser").hidden = false;
}

function trouble(text) {
  setText($("not-read"), text);
  $("not-read").hidden = !text;
}

const isLatest = () => found.length > 0 && shown?.figures.day === found[0].day;

/** Whether the day that is shown is being written. */
function runs() {
  const to = shown?.figures.to;
  const keeps = boat.state?.logbook.state === "keeping" || boat.state?.logbook.state === "failing";
  return Boolean(to) && isLatest() && keeps && (Date.parse(boat.state.at) - Date.parse(to)) / 1000 < RUNS_WITHIN_S;
}

/** Draws what is shown; `anew` also where only the width has changed. */
function draw() {
  if (!shown) {
    return;
  }
  const { figures, timeline } = shown;
  const { shiftMs, aboard } = clockOf(figures);
  const clock = (at) => told(at, shiftMs);
  const { day, rates: bites } = dayWords;
  const units = [boat.state?.units.length, boat.state?.units.speed];
  setText($("note"), [
    runs() ? day.running(clock(figures.to)) : day.over(clock(figures.from), clock(figures.to)),
    aboard ? day.phoneClock : day.shipClock(dayWords.zone(figures.zone_hours)),
  ].join(" "));
  $("parts").hidden = false;
  const part = (id, key, build) => rebuild($(id), [units, key], () => build().flat());
  part("headline", figures, () => headline(figures));
  part("sailing", figures.by_model, () => sailing(figures));
  part("rates", figures.bite_rates, () => rates(figures, figures.bites.length, bites.day));
  part("advice", figures.advice, () => advice(figures));
  part("kites", figures.kites, () => kites(figures, (at) => {
    const date = new Date(Date.parse(at) + shiftMs).toISOString().slice(0, 10);
    return date === figures.day ? clock(at) : `${clock(at)}, ${dateText(date)}`;
  }));
  part("lists", [figures.bites, timeline.advisories, timeline.moves, timeline.turns, timeline.made_turns, timeline.troubles],
    () => lists(shown, clock));
  const plot = (id, paint) => {
    const place = $(id);
    const key = `${place.clientWidth} ${units} ${figures.to} ${figures.bites.length}`;
    if (place.dataset.drawn !== key) {
      place.dataset.drawn = key;
      paint(place);
    }
  };
  plot("timeline", (place) => drawTimeline(place, shown, clock, shiftMs));
  plot("track", (place) => drawTrack(place, timeline.track, spots(figures, timeline)));
}

/** Places that the track shows: bites where the bait was, else the boat, and marks of the crew. */
function spots(figures, timeline) {
  const bites = figures.bites.map((bite, i) => ({
    latitude_deg: bite.bait_latitude_deg ?? bite.latitude_deg,
    longitude_deg: bite.bait_longitude_deg ?? bite.longitude_deg,
    text: dayWords.story.bite(i + 1),
  }));
  // Those of the network are the route's, not the day's.
  const marks = timeline.marks.filter(({ last }) => OF_CREW.includes(last.source)).map(({ last }) => ({
    latitude_deg: last.latitude_deg,
    longitude_deg: last.longitude_deg,
    text: last.name ?? dayWords.story.mark(last.number),
  }));
  return [...bites, ...marks].filter((spot) => spot.latitude_deg !== null && spot.longitude_deg !== null);
}

async function load() {
  const { day } = dayWords;
  if (!boat.state.logbook.file) {
    setText($("note"), "");
    trouble(day.noLogbook);
    return;
  }
  const days = await read("/v1/days");
  if (days.problem) {
    failed(days.problem);
    return;
  }
  found = days;
  $("season").hidden = !found.length;
  const asked = wanted() ?? found[0]?.day;
  if (!asked) {
    setText($("note"), day.none);
    return;
  }
  const answer = await read(`/v1/days/${encodeURIComponent(asked)}`);
  choose(asked);
  if (answer.problem) {
    failed(answer.problem);
    return;
  }
  trouble("");
  shown = answer;
  draw();
}

/** What was read before stays, and is said to be old where it should go on. */
function failed({ detail, cure }) {
  const { day } = dayWords;
  if (shown && runs()) {
    trouble(day.notRefreshed(told(shown.figures.to, clockOf(shown.figures).shiftMs), detail));
  } else {
    setText($("note"), shown ? $("note").textContent : "");
    trouble(day.notRead(detail, cure));
  }
}

async function season() {
  try {
    (await import("./day_sums.js")).showSeason();
  } catch {
    announce(words.failed(words.noAnswer, words.noLinkCure), undefined, true);
  }
}

/** Reads again and again; a page that nobody looks at rests. */
async function go() {
  for (;;) {
    if (!document.hidden && (!shown || runs())) {
      await load();
    }
    await new Promise((done) => setTimeout(done, REFRESH_MS));
  }
}

startPage("day", dayWords);
setText($("note"), dayWords.day.loading);
$("look-buttons").append(...lookButtons());
$("season-open").addEventListener("click", season);
addEventListener("resize", () => requestAnimationFrame(draw));
let units = "";
let begun = false;
watch(() => {
  // Whether there is a logbook, and the crew's units, are known with the first state.
  if (boat.state && !begun) {
    begun = true;
    go();
  }
  const now = JSON.stringify([boat.state?.units, boat.state?.logbook.state]);
  if (now !== units) {
    units = now;
    draw();
  }
});
