// @ts-check
/**
 * Two modes for eyes that are elsewhere, both off until a tap turns them on: the next act and a
 * verdict read aloud by a voice of the phone itself, and big digits that show only verdict, amount
 * and the scale reading to stop at.
 */

/** What is read aloud, in the page’s own order. */
const ACT =
  ".alert-stop p, .shot-word, .shot-limit, .shot-stop, .next h2, .next-how, .walk-now, .do li, .figure h2, .figure-value, .figure-word";
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
});
