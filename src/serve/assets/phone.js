// Whether this phone may touch, as every page shows it: a line at the top, dashes around what needs
// another phone, a line at the foot.

import { boat, read, watch } from "./link.js";
import { $, make, rebuild } from "./parts.js";
import { phoneWords } from "./phone_words.js";

const AGAIN_MS = 5000;

let asked = -Infinity;
let seen = -1;

/** How far this phone may go: all, keep, touch, look or nothing. */
function may(now) {
  if (!now.locked) {
    return "all";
  }
  return now.may_keep ? "keep" : now.may_touch ? "touch" : now.may_look ? "look" : "nothing";
}

function lacking(now) {
  return now.was_taken_out ? phoneWords.out : now.may_look ? phoneWords.look : phoneWords.closed;
}

function show(now) {
  const how = may(now);
  document.documentElement.dataset.may = how;
  const line = $("may");
  line.hidden = now.may_touch;
  rebuild(line, [how, now.was_taken_out], () => (now.may_touch ? [] : [
    make("span", { role: "status" }, lacking(now)),
    make("a", { class: "deck strong", id: "join-link", href: "/phone" }, phoneWords.join),
  ]));
  const { foot } = phoneWords;
  rebuild($("this-phone"), [how, now.name, now.role], () => [
    make("p", {}, !now.locked ? foot.open : now.role ? foot.joined(now.name, now.role) : foot.stranger),
    now.locked ? make("a", { class: "deck", href: "/phone" }, foot.link) : null,
  ]);
  for (const note of document.querySelectorAll(".keeper-only")) {
    note.toggleAttribute("hidden", how !== "touch");
  }
}

async function load() {
  asked = performance.now();
  seen = Math.max(1, boat.opened);
  const now = await read("/v1/phone");
  if (now.problem) {
    seen = -1;
  } else {
    show(now);
  }
}

/** Asks anew whenever the link was opened anew: then this phone may have been let in or taken out. */
function check() {
  const reopened = seen > 0 && boat.opened > seen;
  const unsure = seen < 0 || boat.status !== "live";
  if (reopened || (unsure && performance.now() - asked > AGAIN_MS)) {
    load();
  }
}

/** Shows it on this page. */
export function startPhone() {
  document.head.append(make("link", { rel: "stylesheet", href: "/assets/phone.css" }));
  $("strip").append(make("div", { id: "may", hidden: true }));
  $("looks")?.append(make("div", { id: "this-phone" }));
  for (const place of ["set-up", "learnt"]) {
    $(place)?.querySelector("h2").after(make("p", { class: "hint keeper-only", hidden: true }, phoneWords.keeperOnly));
  }
  load();
  watch(check);
  setInterval(check, 1000);
}
