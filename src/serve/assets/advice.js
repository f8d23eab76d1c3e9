// The most pressing advisory, as mate and helm both show it: its words, its countdowns, SEEN.

import { boat, secondsUntil } from "./link.js";
import { $, length, make, pace, setText, tell } from "./parts.js";
import { words } from "./words.js";

export const acknowledge = (advisory) =>
  tell(`/v1/advisories/${encodeURIComponent(advisory.id)}/acknowledge`, {}, words.said.seen, false);
export const unseen = (advisory) =>
  (advisory.state.endsWith("unacknowledged") || advisory.state === "active-silenced") && advisory.priority !== "caution";
/** The most pressing advisory whose trouble is not over. */
export const pressing = (state) => state?.advisories.find((advisory) => advisory.state.startsWith("active"));

const asksFirst = (advisory) => advisory?.actions[0]?.do === "move_line";
/** The advisory whose line is to be moved first: that on the card, or the next that asks for any. */
export const asking = (state) =>
  state?.advisories.find((advisory) => advisory.state.startsWith("active") && asksFirst(advisory));

/** "over 8 s at 1.5 m/s", and how often the handle turns for it. */
function howLong(action) {
  const over = words.over(Math.round(action.over_s), pace(action.pace_m_per_s));
  return action.cranks ? `${over}: ${words.cranks(Math.round(action.cranks))}` : over;
}

/** "2.0°/s at most: 40° takes 20 s", of the turn that is coming; without one only the rate. */
function slowerThan(rate) {
  const turn = Math.abs(boat.forecast?.turn?.by_deg ?? 0);
  return turn >= 1
    ? words.slowerThan(rate.toFixed(1), Math.round(turn), Math.round(turn / rate))
    : words.atMost(rate.toFixed(1));
}

/** "GIVE 3 m / MAIN LINE" with room for the running countdown. */
export function actionParts(action) {
  if (action.do === "move_line") {
    const give = action.by_m > 0;
    return {
      kind: give ? "give" : "take",
      verb: `${give ? words.give : words.take}\u00a0${length(Math.abs(action.by_m))}`,
      line: words.line[action.line],
      tail: howLong(action),
    };
  }
  if (action.do === "limit_turn") {
    return { kind: "slower", verb: words.slower, line: "", tail: slowerThan(action.rate_deg_s) };
  }
  return { kind: "look", verb: words.look, line: "", tail: action.what };
}

/** An action in one line. */
export function actionLine(action) {
  if (action.do === "see") {
    return action.what;
  }
  const { verb, tail } = actionParts(action);
  const which = action.do === "move_line" ? words.lineSmall[action.line] : "";
  return [verb, which, tail].filter(Boolean).join(" ");
}

/** How pressing it is and what it is called. */
export const rank = (advisory) => make("p", { class: "rank" },
  make("b", { class: `mark ${advisory.priority}` }, words.priority[advisory.priority]),
  make("span", { class: "title" }, advisory.title));

/** Countdowns run between events, on the boat's clock. */
export function count() {
  const first = pressing(boat.state);
  const action = first?.actions[0];
  const start = $("start-count");
  if (start && action?.do === "move_line") {
    const s = Math.ceil(secondsUntil(action.start_at));
    setText(start, s > 0 ? words.inSeconds(s) : words.now);
  }
  const onset = $("onset-count");
  const short = $("trouble-count");
  if (first) {
    const s = first.onset_at ? Math.ceil(secondsUntil(first.onset_at)) : 0;
    if (onset) {
      setText(onset, s > 0 ? words.onset(s) : first.unwatched_since ? words.onsetUnwatched : words.onsetNow);
    }
    if (short) {
      setText(short, s > 0 ? words.inSeconds(s) : first.unwatched_since ? words.nowUnwatched : words.now);
    }
  }
}
