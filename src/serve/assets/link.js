// The link to the boat: the state stream, the boat's clock, and what the crew says.

import { words } from "./words.js";

const LOST_AFTER_MS = 5000;
const STUCK_AFTER_MS = 10000;
const REOPEN_AFTER_MS = 2000;
const ANSWER_WITHIN_MS = 5000;
const SAVED_WITHIN_MS = 35000;

/** The latest of everything; `status` is connecting, live, stuck or lost. */
export const boat = { state: null, forecast: null, reasons: [], status: "connecting" };

const watchers = new Set();
let source = null;
let heardAt = performance.now();
let stateAt = 0;
let openedAt = 0;

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
  source = new EventSource("/v1/state/stream");
  source.addEventListener("state", (event) => {
    boat.state = JSON.parse(event.data);
    stateAt = performance.now();
    heard();
  });
  source.addEventListener("forecast", (event) => {
    const answer = JSON.parse(event.data);
    boat.forecast = answer.forecast;
    boat.reasons = answer.reasons;
  });
  source.addEventListener("beat", heard);
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
    boat.status = now - stateAt > STUCK_AFTER_MS ? "stuck" : "live";
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

/** Whole seconds since anything was heard. */
export function silenceSeconds() {
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
