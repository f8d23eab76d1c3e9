// The link to the boat: the state stream, the boat's clock, and what the crew says.

import { words } from "./words.js";

const LOST_AFTER_MS = 5000;
const STUCK_AFTER_MS = 10000;
const LATE_AFTER_MS = 3000;
// A phone's clock runs fast or slow by less than this share.
const CLOCK_DRIFT = 0.0005;
const REOPEN_AFTER_MS = 2000;
const ANSWER_WITHIN_MS = 5000;
const SAVED_WITHIN_MS = 35000;

/** The latest of everything; `status` is connecting, live, late, stuck or lost; `opened` counts links. */
export const boat = { state: null, forecast: null, reasons: [], status: "connecting", opened: 0 };

const watchers = new Set();
let source = null;
let heardAt = performance.now();
let stateAt = 0;
let stateAge = 0;
let openedAt = 0;
// How far the boat's time was ahead of this phone's own clock with the state that came quickest.
let quickest = null;

/** Calls `watcher` now and at every change of state, forecast or link. */
export function watch(watcher) {
  watchers.add(watcher);
  watcher();
}

function tell() {
  for (const watcher of watchers) {
    try {
      watcher();
    } catch (error) {
      // One part that fails must not leave the others standing old.
      console.error(error);
    }
  }
}

function open() {
  if (source) {
    source.close();
  }
  openedAt = performance.now();
  quickest = null;
  source = new EventSource("/v1/state/stream");
  source.addEventListener("open", () => { boat.opened += 1; });
  source.addEventListener("state", (event) => {
    const before = stateAt;
    const last = boat.state;
    boat.state = JSON.parse(event.data);
    if (last && boat.state.at_unix_ms < last.at_unix_ms) {
      // A replay has come to another part of its log.
      quickest = null;
    }
    stateAt = performance.now();
    stateAge = Math.max(1000 * boat.state.lag_s, behind(stateAt - before));
    heard();
  });
  source.addEventListener("forecast", (event) => {
    const answer = JSON.parse(event.data);
    boat.forecast = answer.forecast;
    boat.reasons = answer.reasons;
  });
  source.addEventListener("beat", heard);
}

/** Milliseconds by which this state came later than the quickest, by this phone's own clock: what
 * the boat says of its own lateness may be late, too. */
function behind(sinceLast) {
  const ahead = boat.state.at_unix_ms / boat.state.clock_speed - stateAt;
  quickest = Math.max(ahead, quickest === null ? ahead : quickest - CLOCK_DRIFT * sinceLast);
  return quickest - ahead;
}

/** Milliseconds by which what is shown is older than the boat's clock. */
function age() {
  return stateAge + performance.now() - stateAt;
}

function heard() {
  heardAt = performance.now();
  check();
  tell();
}

function check() {
  const now = performance.now();
  const before = boat.status;
  if (now - heardAt > LOST_AFTER_MS) {
    boat.status = boat.state ? "lost" : "connecting";
  } else if (!boat.state) {
    boat.status = "connecting";
  } else {
    const late = age() > LATE_AFTER_MS ? "late" : "live";
    boat.status = now - stateAt > STUCK_AFTER_MS ? "stuck" : late;
  }
  return boat.status !== before;
}

/** Opens the stream and keeps it open. */
export function start() {
  open();
  // A page that the browser keeps for going back must not keep one of its few connections.
  addEventListener("pagehide", () => source.close());
  addEventListener("pageshow", (event) => event.persisted && open());
  setInterval(() => {
    const changed = check();
    const silent = performance.now() - heardAt > LOST_AFTER_MS;
    const dead = source.readyState === EventSource.CLOSED || silent;
    if (dead && performance.now() - openedAt > REOPEN_AFTER_MS) {
      open();
    }
    if (changed || boat.status !== "live") {
      tell();
    }
  }, 500);
}

/** Whole seconds since anything was heard, or by which what is shown is late. */
export function silenceSeconds() {
  if (boat.status === "late") {
    return Math.round(age() / 1000);
  }
  const since = boat.status === "stuck" ? stateAt : heardAt;
  return Math.round((performance.now() - since) / 1000);
}

/** The boat's time now, Unix milliseconds, going on between events at the boat's speed. */
export function boatNow() {
  if (!boat.state) {
    return Date.now();
  }
  return boat.state.at_unix_ms + (performance.now() - stateAt) * boat.state.clock_speed;
}

/** Seconds of the boat's time from now until `time` (RFC 3339). */
export function secondsUntil(time) {
  return (Date.parse(time) - boatNow()) / 1000;
}

/** Says something to the boat. Answers {sequence} or {problem: {detail, cure}}. */
export const say = (path, body) => ask(path, "POST", body ?? {}, ANSWER_WITHIN_MS);

/** Reads from the boat. Answers what is there or {problem}. */
export const read = (path) => ask(path, "GET", undefined, ANSWER_WITHIN_MS);

/** Takes something away on the boat. Answers as `say`. */
export const remove = (path) => ask(path, "DELETE", undefined, ANSWER_WITHIN_MS);

/** Puts something in place on the boat. Answers what is there now or {problem}. */
export const put = (path, body) => ask(path, "PUT", body, SAVED_WITHIN_MS);

async function ask(path, method, body, withinMs) {
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), withinMs);
  try {
    const response = await fetch(path, {
      method,
      headers: body === undefined ? {} : { "Content-Type": "application/json" },
      body: body === undefined ? undefined : JSON.stringify(body),
      signal: patience.signal,
    });
    const answer = await response.json();
    return response.ok ? answer : { problem: answer };
  } catch {
    return { problem: { detail: words.noAnswer, cure: words.noLinkCure } };
  } finally {
    clearTimeout(timer);
  }
}
