// Being noticed: a tone for each priority, vibration, the screen kept awake, quiet for a while.
// Alarms sound until seen, warnings sound briefly and again each half minute, cautions never
// (after the public alert standard IMO MSC.302(87)).

import { boat, secondsUntil, watch } from "./link.js";
import { tell } from "./parts.js";
import { words } from "./words.js";

// Frequency in Hz, start and length in seconds; alarm and warning cannot be mistaken.
const TONES = {
  alarm: [[988, 0, 0.16], [740, 0.2, 0.16], [988, 0.4, 0.16], [740, 0.6, 0.16]],
  warning: [[587, 0, 0.35], [587, 0.5, 0.35]],
};
const VIBRATION_MS = { alarm: [300, 100, 300, 100, 300], warning: [200, 200, 200] };
const AGAIN_MS = { alarm: 2000, warning: 30000 };

/** Where it is kept that sound is wanted, so that it stays so from page to page. */
const WANTED = "sound";
let audio = null;
const soundedAt = new Map();

const armed = () => audio !== null && audio.state === "running";

function isWanted() {
  try {
    return localStorage.getItem(WANTED) === "on";
  } catch {
    return false;
  }
}

function want(on) {
  try {
    localStorage.setItem(WANTED, on ? "on" : "off");
  } catch {
    // A browser that keeps nothing asks on every page.
  }
}

function quietMinutes() {
  const until = boat.state?.silenced_until;
  const left = until ? secondsUntil(until) : 0;
  return left > 0 ? Math.ceil(left / 60) : 0;
}

export function soundLabel() {
  if (!("AudioContext" in window)) {
    return words.sound.none;
  }
  if (!armed()) {
    return isWanted() ? words.sound.waiting : words.sound.arm;
  }
  const minutes = quietMinutes();
  return minutes ? words.sound.quiet(minutes) : words.sound.on;
}

function play(priority) {
  for (const [hertz, from, lasting] of TONES[priority]) {
    const tone = audio.createOscillator();
    const volume = audio.createGain();
    const begin = audio.currentTime + from;
    tone.type = priority === "alarm" ? "square" : "sine";
    tone.frequency.value = hertz;
    volume.gain.setValueAtTime(0, begin);
    volume.gain.linearRampToValueAtTime(0.5, begin + 0.02);
    volume.gain.setValueAtTime(0.5, begin + lasting - 0.02);
    volume.gain.linearRampToValueAtTime(0, begin + lasting);
    tone.connect(volume).connect(audio.destination);
    tone.start(begin);
    tone.stop(begin + lasting);
  }
  const root = document.documentElement;
  root.dataset.tone = priority;
  root.dataset.tones = String(Number(root.dataset.tones ?? 0) + 1);
}

/** The first tap arms the sound (browsers want one); later taps open the quiet choices. */
export async function tapSound() {
  if (!("AudioContext" in window)) {
    return;
  }
  if (!armed()) {
    want(true);
    audio ??= new AudioContext();
    await audio.resume();
    play("warning");
    keepAwake();
    showLabel();
    return;
  }
  const box = document.getElementById("quiet");
  box.hidden = !box.hidden;
}

/** Sound that was on when the page changed comes back: at once where the browser allows it, else with
 * the first tap anywhere. */
function comeBack() {
  if (!isWanted() || !("AudioContext" in window) || armed()) {
    return;
  }
  audio ??= new AudioContext();
  audio.resume().then(showLabel, () => {});
}

const showLabel = () => {
  const button = document.getElementById("sound");
  if (button && button.textContent !== soundLabel()) {
    button.textContent = soundLabel();
  }
};

async function turnOff() {
  want(false);
  await audio?.close();
  audio = null;
  showLabel();
}

function notice() {
  if (boat.status !== "live" && boat.status !== "late") {
    return;
  }
  const loud = boat.state.advisories.filter(
    (advisory) => advisory.state === "active-unacknowledged" && TONES[advisory.priority]);
  const living = new Set(loud.map((advisory) => advisory.id));
  for (const id of soundedAt.keys()) {
    if (!living.has(id)) {
      soundedAt.delete(id);
    }
  }
  if (quietMinutes() || !loud.length) {
    return;
  }
  const now = performance.now();
  const due = loud.find((advisory) =>
    now - (soundedAt.get(advisory.id) ?? -Infinity) >= AGAIN_MS[advisory.priority]);
  if (due) {
    soundedAt.set(due.id, now);
    if (armed()) {
      play(due.priority);
    }
    if (navigator.userActivation?.hasBeenActive) {
      navigator.vibrate?.(VIBRATION_MS[due.priority]);
    }
  }
}

let lock = null;

/** Keeps the screen on where the browser allows (it wants a secure origin), else says so. */
async function keepAwake() {
  let held = false;
  try {
    lock = await navigator.wakeLock.request("screen");
    held = true;
  } catch {
    lock = null;
  }
  const place = document.getElementById("awake");
  if (place) {
    place.textContent = held ? words.awake.on : words.awake.off;
  }
}

/** The quiet choices, hidden until the sound button is tapped. */
function quietBox() {
  const box = document.createElement("section");
  box.id = "quiet";
  box.hidden = true;
  const title = document.createElement("h2");
  title.textContent = words.sound.title;
  const row = document.createElement("div");
  row.className = "row";
  for (const minutes of [5, 15, 30, 0]) {
    const button = document.createElement("button");
    button.className = "deck";
    button.dataset.minutes = String(minutes);
    button.textContent = minutes ? words.sound.forMinutes(minutes) : words.sound.back;
    button.addEventListener("click", () => {
      box.hidden = true;
      tell("/v1/silence", { minutes }, words.said.quiet(minutes), false);
    });
    row.append(button);
  }
  const off = document.createElement("button");
  off.className = "deck";
  off.id = "sound-off";
  off.textContent = words.sound.off;
  off.addEventListener("click", () => {
    box.hidden = true;
    turnOff();
  });
  row.append(off);
  box.append(title, row);
  return box;
}

export function initNotice() {
  document.getElementById("dock").prepend(quietBox());
  keepAwake();
  comeBack();
  document.addEventListener("pointerdown", (event) => {
    if (!(event.target instanceof Element && event.target.closest("#sound"))) {
      comeBack();
    }
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible" && (!lock || lock.released)) {
      keepAwake();
    }
  });
  watch(notice);
  setInterval(notice, 500);
}
