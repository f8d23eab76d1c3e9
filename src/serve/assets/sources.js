// The rig page: every source of the instruments, and a button to ignore it.

import { $, make, rebuild, setText, tell, timeOf } from "./parts.js";

const sources = {
  explain: "Ignore a source that lies: all that it sends goes unused, and the next is used, or what stands in for it.",
  along: (others) => `What it sends with it goes, too: ${others.join(", ")}.`,
  since: (name, changed, time) => `${name} ${changed}; since ${time}.`,
  none: "Nothing is heard",
  ignore: "IGNORE TODAY",
  again: "USE AGAIN",
  said: (name, used) => (used ? `${name} is used again` : `${name} is ignored`),
  now: ({ ignored, used, silent, seen }) => [
    ignored ? "ignored" : used ? "in use" : "in reserve",
    silent ? "silent" : "",
    seen ? "in doubt" : "",
  ].filter(Boolean).join(", "),
  of: {
    wind: "Wind",
    heading: "Heading",
    rate_of_turn: "Rate of turn",
    log: "Speed through water",
    ground_speed: "Speed over ground",
    course: "Course over ground",
    position: "Position",
    clock: "Clock",
    variation: "Variation",
  },
};

/** Every source with what is suspected of it. Ages stay out, so that a button stays under the thumb. */
export function showSources({ vessel }) {
  const all = vessel?.sources ?? [];
  const rows = all.map(({ instrument, name, used, ignored, seen, habit, age_s: age }) => ({
    instrument, name, used, ignored, seen, habit, silent: age > 10,
    along: all.filter((other) => other.name === name && other.instrument !== instrument).map((other) => sources.of[other.instrument]),
  }));
  setText($("sources-explain"), sources.explain);
  rebuild($("sources-table"), rows, () => (rows.length
    ? make("ul", { class: "sources" }, ...rows.map((row) => make("li", { class: row.seen ? "doubted" : "" },
      make("p", {}, make("b", {}, sources.of[row.instrument]), ` ${row.name} `, make("small", {}, sources.now(row))),
      row.seen ? make("p", {}, `${row.name} ${row.seen}`) : null,
      row.habit ? make("p", {}, sources.since(row.name, row.habit.changed, timeOf(row.habit.since))) : null,
      row.along.length && !row.ignored ? make("p", {}, make("small", {}, sources.along(row.along))) : null,
      make("button", {
        class: "deck",
        type: "button",
        "aria-label": `${row.ignored ? sources.again : sources.ignore}: ${sources.of[row.instrument]} ${row.name}`,
        on: () => tell("/v1/crew/instrument", { name: row.name, used: row.ignored }, sources.said(row.name, row.ignored), true),
      }, row.ignored ? sources.again : sources.ignore))))
    : make("p", {}, sources.none)));
}
