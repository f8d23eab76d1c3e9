// Figures over many days: asked for when somebody wants them, because they take the computer a while.

import { read } from "./link.js";
import { $, make, percent, rebuild, setText, speed } from "./parts.js";
import { advice, hours, kiteName, rate, rates, sailing, times } from "./day_parts.js";
import { dayWords } from "./day_words.js";

const AGAIN_MS = 300;

function name(sum) {
  const { season } = dayWords;
  switch (sum.by) {
    case "kite":
      return kiteName(sum.kite);
    case "wind":
      return sum.wind_force === null ? season.windUnknown
        : season.force(sum.wind_force, speed(sum.wind_from_mps), sum.wind_to_mps === null ? "" : speed(sum.wind_to_mps));
    case "month":
      return new Date(`${sum.month}-15T00:00:00Z`).toLocaleDateString([], { month: "long", year: "numeric", timeZone: "UTC" });
    default:
      return season.by.all;
  }
}

/** What a group tells, or that it tells nothing yet. */
function told(sum) {
  const { season } = dayWords;
  if (!sum.enough.days) {
    return season.few;
  }
  const { skipping, all } = times(sum.by_model);
  const classes = sum.advice.told.filter((row) => row.trouble === "all");
  const count = (key) => classes.reduce((total, row) => total + row[key], 0);
  const [events, detected, right, wrong] = ["events", "detected", "true_alarms", "false_alarms"].map(count);
  const lead = classes.find((row) => row.class === "planned")?.lead_median_s ?? null;
  return [
    all ? season.skipped(percent(skipping / all)) : null,
    sum.bites_per_hour === null ? null : season.bites(rate(sum.bites_per_hour)),
    sum.corrections.per_hour === null ? null : season.corrections(rate(sum.corrections.per_hour)),
    events ? (sum.enough.events ? season.foretold(percent(detected / events), events) : season.foretoldFew(detected, events)) : season.noTroubles,
    right + wrong ? (sum.enough.alarms ? season.false(percent(wrong / (right + wrong)), right + wrong) : season.falseFew(wrong, right + wrong)) : null,
    events && lead !== null ? season.lead(Math.round(lead)) : null,
  ].filter(Boolean).join("; ");
}

const group = (sum) => make("li", {}, make("b", {}, name(sum)), make("span", {}, dayWords.season.behind(sum.days, hours(sum.fishing_s), sum.bites)),
  make("span", {}, told(sum)));

function show(sums) {
  const { season, rates: bites } = dayWords;
  const of = (by) => sums.filter((sum) => sum.by === by);
  const [all] = of("all");
  return [
    ...["all", "kite", "wind", "month"].flatMap((by) => [
      by === "all" ? null : make("h3", { class: "small" }, season.by[by]),
      make("ul", { class: "bands" }, ...of(by).map(group)),
    ]),
    ...(all ? [sailing(all), rates(all, all.bites, bites.season), advice(all)].flat() : []),
  ].filter(Boolean);
}

/** Asks until all days are counted, and shows them. */
export async function showSeason() {
  const { season, day } = dayWords;
  const note = $("season-note");
  note.hidden = false;
  for (;;) {
    const answer = await read("/v1/days/sums");
    if (answer.problem) {
      setText(note, day.notRead(answer.problem.detail, answer.problem.cure));
      return;
    }
    if (answer.counted_days === answer.days) {
      note.hidden = true;
      rebuild($("sums"), answer.sums, () => show(answer.sums));
      return;
    }
    setText(note, season.counting(answer.counted_days, answer.days));
    await new Promise((done) => setTimeout(done, AGAIN_MS));
  }
}
