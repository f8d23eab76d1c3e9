// Lines out from before a restart of the program, on the pages where lines are told: to be confirmed
// with one tap, or asked for when they no longer count.

import { boat, watch } from "./link.js";
import { fromMetres, lengthUnit, make, rebuild, tell, timeOf } from "./parts.js";
import { words } from "./words.js";

const LINES = ["kite", "main"];

/** The lengths that are to be confirmed, as they are posted. */
function unconfirmed(restored) {
  const keys = LINES.map((line) => `${line}_line_out_m`).filter((key) => restored[key] !== null);
  return Object.fromEntries(keys.map((key) => [key, restored[key]]));
}

function build(restored) {
  const { before } = words;
  const lines = LINES.filter((line) => restored[`${line}_line_out_m`] !== null).map((line) =>
    before.line(words.lineSmall[line], `${Math.round(fromMetres(restored[`${line}_line_out_m`]) * 10) / 10}\u00a0${lengthUnit()}`));
  const say = restored.used ? before.check : before.ask;
  return [
    make("p", { class: "hint" }, say(timeOf(restored.as_of))),
    make("p", {}, lines.join(", ")),
    make("button", { class: "deck strong", type: "button", "data-still": true,
      on: () => tell("/v1/crew/lines-out", unconfirmed(restored), words.said.out, true) },
    restored.used ? before.right : before.same),
  ];
}

/** Shows in `place` what is from before a restart, while there is such a thing. */
export function startBefore(place) {
  watch(() => {
    const restored = boat.state?.deck.restored ?? null;
    place.hidden = !restored;
    const { as_of, used, kite_line_out_m, main_line_out_m } = restored ?? {};
    rebuild(place, [restored && timeOf(as_of), used, kite_line_out_m, main_line_out_m, lengthUnit()], () => (restored ? build(restored) : []));
  });
}
