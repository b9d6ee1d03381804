// @ts-check
/**
 * Two things at a practice unit run as long as a thumb, space or enter holds them: the low handwheel
 * and the recovery machine. Without this file two plain buttons open and close, start and stop each.
 */

const AGAIN_MS = 400;
const LONGEST_TRIES = 100;

/** Turns wait for each other, so that `shut` never overtakes `open`. @type {Promise<void>} */
let turning = Promise.resolve();

/** @type {HTMLButtonElement | null} */
let held = null;

/** The held button's words when it is let go. */
let at_rest = "";

/** @param {HTMLButtonElement} button @param {"open" | "shut"} to */
function turn(button, to) {
  const url = button.dataset.hold ?? "";
  turning = turning.then(() => send(button, url, to));
}

/** @param {HTMLButtonElement} button @param {string} url @param {"open" | "shut"} to */
async function send(button, url, to) {
  const trouble = button.closest(".practice-top")?.querySelector(".hold-trouble");
  for (let tries = 0; tries < LONGEST_TRIES; tries += 1) {
    // An opening that comes late would be a shot that nobody asked for.
    if (to === "open" && held !== button) return;
    try {
      const body = new URLSearchParams({ valve: to, quiet: "yes" });
      const answer = await fetch(url, { method: "POST", body, keepalive: true });
      if (answer.ok) {
        if (trouble instanceof HTMLElement) trouble.hidden = true;
        return;
      }
    } catch {
      // The server was not reached. The text below says so, and the next round tries again.
    }
    if (trouble instanceof HTMLElement) trouble.hidden = false;
    await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
  }
}

/** @param {HTMLButtonElement} button */
function hold(button) {
  if (held !== null) return;
  held = button;
  button.setAttribute("aria-pressed", "true");
  at_rest = button.textContent ?? "";
  button.textContent = button.dataset.held ?? at_rest;
  turn(button, "open");
}

function release() {
  if (held === null) return;
  const button = held;
  held = null;
  button.setAttribute("aria-pressed", "false");
  button.textContent = at_rest;
  turn(button, "shut");
}

/** @param {EventTarget | null} target */
function hold_button(target) {
  const button = target instanceof Element ? target.closest("[data-hold]") : null;
  return button instanceof HTMLButtonElement ? button : null;
}

function show() {
  for (const button of document.querySelectorAll("[data-hold]")) {
    if (button instanceof HTMLElement) button.hidden = false;
  }
}

addEventListener("pointerdown", (event) => {
  const button = hold_button(event.target);
  if (button === null || event.button !== 0) return;
  event.preventDefault();
  hold(button);
});
addEventListener("pointerup", release);
addEventListener("pointercancel", release);
addEventListener("contextmenu", (event) => {
  if (hold_button(event.target) !== null) event.preventDefault();
});
addEventListener("keydown", (event) => {
  const button = hold_button(event.target);
  if (button === null || (event.key !== " " && event.key !== "Enter")) return;
  event.preventDefault();
  if (!event.repeat) hold(button);
});
addEventListener("keyup", (event) => {
  if (event.key === " " || event.key === "Enter") release();
});
addEventListener("blur", release);
addEventListener("pagehide", release);
document.addEventListener("visibilitychange", () => {
  if (document.hidden) release();
});
document.addEventListener("htmx:after:swap", () => {
  if (held !== null && !held.isConnected) release();
  show();
});
show();
