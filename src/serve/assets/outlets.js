// The rig page: how telling other devices goes.

import { secondsUntil } from "./link.js";
import { $, make, rebuild } from "./parts.js";
import { words } from "./words.js";

const outlets = {
  title: "Other devices",
  explain: "Buzzers, lamps and displays that are told of advice. Pages go on without them.",
  of: { webhook: "Device that is posted to", mqtt: "MQTT broker" },
  beginning: "nothing was sent yet",
  working: "takes what it is told",
  failing: (s) => `NOT TOLD for ${words.age(s)}`,
  counts: (sent, failed) => [
    `${sent} ${sent === 1 ? "message" : "messages"} arrived`,
    failed ? `${failed} ${failed === 1 ? "try" : "tries"} failed` : "",
  ].filter(Boolean).join(", "),
};

const now = ({ state, failing_since: since }) => (state === "failing" ? outlets.failing(Math.max(0, -secondsUntil(since))) : outlets[state]);

const device = (outlet) => make("li", { class: outlet.state === "failing" ? "doubted" : "" },
  make("p", {}, make("b", {}, outlets.of[outlet.kind]), ` ${outlet.to} `, make("small", {}, now(outlet))),
  outlet.cause ? make("p", {}, outlet.cause) : null,
  make("p", {}, make("small", {}, outlets.counts(outlet.sent, outlet.failed))));

/** Each device with what keeps it from being told. */
export function show({ outlets: told }) {
  const place = $("outlets");
  place.hidden = !told.length;
  rebuild(place, told.map((outlet) => [outlet, now(outlet)]), () => [
    make("h2", {}, outlets.title),
    make("p", {}, outlets.explain),
    make("ul", { class: "sources live" }, ...told.map(device)),
  ]);
}
