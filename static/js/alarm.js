// @ts-check
/**
 * What a hand hears and feels while its eyes are elsewhere: a soft tick in the last seconds before a
 * valve must be closed, an alarm from then on, and a chime when a wait is over. Sound and vibration
 * go together, so a phone that lacks one still has the other. Off until one tap turns them on: the
 * next act and a verdict read aloud by a voice of the phone itself, and big digits.
 */

import { is_over } from "./core/pages/running.js";

const LAST_S = 5;

/** @typedef {{ notes: [number, number][], loud: number, buzz: number[] }} Signal */

/** Notes as [Hz, s], loudness 0 to 1, vibration as [ms on, ms off, …]. @type {Record<string, Signal>} */
const SIGNALS = {
  tick: { notes: [[880, 0.05]], loud: 0.25, buzz: [30] },
  alarm: { notes: [[1400, 0.18], [950, 0.18], [1400, 0.18]], loud: 1, buzz: [250, 80, 250, 80, 250] },
  chime: { notes: [[660, 0.15], [990, 0.3]], loud: 0.6, buzz: [120, 80, 120] },
};

/** @type {AudioContext | null} */
let audio = null;

/** A browser lets a page sound only after a tap. This is called on each one. */
function wake() {
  if (audio === null && "AudioContext" in globalThis) audio = new AudioContext();
  if (audio?.state === "suspended") void audio.resume();
}

/** @param {"tick" | "alarm" | "chime"} name */
export function signal(name) {
  const { notes, loud, buzz } = SIGNALS[name];
  navigator.vibrate?.(buzz);
  if (audio === null || audio.state !== "running") return;
  let at = audio.currentTime;
  for (const [hertz, seconds] of notes) {
    const tone = audio.createOscillator();
    const level = audio.createGain();
    tone.type = "square";
    tone.frequency.value = hertz;
    level.gain.setValueAtTime(loud * 0.4, at);
    level.gain.linearRampToValueAtTime(0, at + seconds);
    tone.connect(level).connect(audio.destination);
    tone.start(at);
    tone.stop(at + seconds);
    at += seconds;
  }
}

/** The last whole second that was told, by the valve's page. @type {WeakMap<Element, number>} */
const told = new WeakMap();

/** Tell how an open valve's time goes. The page says the limit; without one the scale decides.
 * @param {HTMLElement} valve @param {number} elapsed */
export function watch(valve, elapsed) {
  const silent = valve.querySelector(".shot-silent");
  if (silent instanceof HTMLElement) silent.hidden = valve.dataset.limit === "" || audio?.state === "running";
  if (valve.dataset.limit === "") return;
  const limit = Number(valve.dataset.limit);
  const left = Math.ceil(limit - elapsed);
  if (left > LAST_S || told.get(valve) === left) return;
  told.set(valve, left);
  const late = is_over(elapsed, limit);
  signal(late ? "alarm" : "tick");
  if (!late) return;
  valve.classList.add("shot-late");
  const word = valve.querySelector(".shot-word");
  if (word !== null && word.textContent !== valve.dataset.late) word.textContent = valve.dataset.late ?? "";
}

/** What is read aloud, in the page’s own order. */
const ACT =
  ".alert-stop p, .shot-word, .shot-limit, .shot-stop, #weigh-form label, .next h2, .next-how, .walk-now, .do li, .figure h2, .figure-value, .figure-word";
const MOST = 6;

/** @param {string} mode */
const is_on = (mode) => {
  try {
    return localStorage.getItem(mode) === "on";
  } catch {
    return false;
  }
};

/** A voice that needs no network. */
function voice() {
  return globalThis.speechSynthesis?.getVoices().find((one) => one.localService && one.lang.startsWith("en"));
}

function read_aloud() {
  const speech = globalThis.speechSynthesis;
  speech?.cancel();
  const with_voice = voice();
  if (!is_on("aloud") || with_voice === undefined) return;
  const told = [...document.querySelectorAll(ACT)].slice(0, MOST).map((one) => one.textContent ?? "");
  const words = new SpeechSynthesisUtterance(told.join(". "));
  words.voice = with_voice;
  speech.speak(words);
}

/** Show the modes on this page. @param {ParentNode} page */
function show(page) {
  document.documentElement.classList.toggle("big", is_on("big"));
  for (const key of page.querySelectorAll("[data-mode]")) {
    if (!(key instanceof HTMLElement)) continue;
    const mode = key.dataset.mode ?? "";
    key.hidden = mode === "aloud" && !("speechSynthesis" in globalThis);
    key.setAttribute("aria-pressed", String(is_on(mode)));
  }
}

/** On each new page: show the modes, read aloud. @param {ParentNode} page */
export function arrive_aloud(page) {
  show(page);
  read_aloud();
}

addEventListener("click", (event) => {
  const key = event.target instanceof Element ? event.target.closest("[data-mode]") : null;
  if (!(key instanceof HTMLElement)) return;
  const mode = key.dataset.mode ?? "";
  try {
    localStorage.setItem(mode, is_on(mode) ? "off" : "on");
  } catch {
    // A phone without storage cannot keep the choice.
  }
  show(document);
  if (mode === "aloud") read_aloud();
  else scrollTo(0, 0);
});

for (const kind of ["pointerdown", "click", "keydown"]) addEventListener(kind, wake, true);
