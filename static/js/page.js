// @ts-check
/**
 * Runs the clocks of a field page, keeps what is typed until it is recorded, and lets a second tap
 * that falls on the next page do nothing. The page works without this file; it only loses these.
 */

import { clock_face, is_over } from "./core/pages/running.js";
import { too_soon } from "./core/session/taps.js";
import { arrive_aloud, signal, watch } from "./alarm.js";

const DRAFT = "draft ";
/** What of a record is handed on as text. */
const RECORD = ".stub-where, .stub-facts, main :is(h1, h2, .progress, .added p, tr, dl.facts > div, .notes li)";
const KEYS = "[data-key], [data-same]";

/** When the page was swapped in under the thumb [ms of `performance.now()`], and whether a hand did
 * anything on it since. */
let swapped = -Infinity;
let touched = false;
/** Advice shown longer than this while nobody looked is asked for anew [ms]. */
const STALE_MS = 60_000;
/** When the page was last put out of sight, by the wall clock [ms]. */
let away_since = Infinity;

/** Each clock's reading [s] and the time of that reading [ms of `performance.now()`].
 * @type {WeakMap<Element, { elapsed: number, at: number }>} */
const stood = new WeakMap();

function tick() {
  const now = performance.now();
  // A practice unit's clock may run faster than the wall's; no other page has this.
  const paced = document.querySelector("[data-pace]");
  const pace = paced instanceof HTMLElement ? Number(paced.dataset.pace) : 1;
  for (const clock of document.querySelectorAll("[data-elapsed]")) {
    if (!(clock instanceof HTMLElement)) continue;
    const last = stood.get(clock) ?? { elapsed: Number(clock.dataset.elapsed), at: now };
    const elapsed = last.elapsed + ((now - last.at) / 1000) * pace;
    stood.set(clock, { elapsed, at: now });
    if (clock.dataset.limit !== undefined) watch(clock, elapsed);
    const wait = Number(clock.dataset.wait || 0);
    const face = clock.querySelector(".clock-time");
    if (face === null) continue;
    const done = is_over(elapsed, wait);
    const text = clock_face(elapsed, wait);
    if (face.textContent !== text) face.textContent = text;
    if (wait > 0) {
      if (done && !clock.classList.contains("clock-over")) over(clock);
      clock.classList.toggle("clock-over", done);
    }
  }
}

/** A wait is over: it is heard, and the page becomes what may be done now.
 * @param {HTMLElement} clock */
function over(clock) {
  signal("chime");
  if (clock.dataset.next !== undefined) renew();
}

/** The page as it is now. A form that is being filled in stays. */
function renew() {
  if (touched) return;
  const { htmx } = /** @type {any} */ (globalThis);
  htmx.ajax("GET", location.pathname, { target: "#page", select: "#page", swap: "outerHTML" });
}

/** A phone that was put away shows its old page when it is taken out again. Advice grows old, so it
 * is asked for anew. The wall clock tells, since the other one may stop meanwhile. */
function look_again() {
  if (document.visibilityState === "hidden") {
    away_since = Date.now();
  } else if (Date.now() - away_since > STALE_MS && document.querySelector("[data-ages]") !== null) {
    renew();
  }
}

/** @param {Event | { target: Element }} event */
function keepDraft({ target }) {
  const form = target instanceof Element ? target.closest("form[data-draft]") : null;
  if (!(form instanceof HTMLFormElement)) return;
  const typed = [...new FormData(form)].filter(([, value]) => typeof value === "string");
  // No field has an empty name.
  const draft = { ...Object.fromEntries(typed), "": [form.dataset.holds, Date.now()] };
  try {
    localStorage.setItem(DRAFT + form.dataset.draft, JSON.stringify(draft));
  } catch {
    // A full or forbidden storage costs only the draft. The form itself still has the text.
  }
}

/** Puts a kept draft back. A page that shows the refused text and the reason is the newer draft.
 * @param {HTMLFormElement} form */
function restoreDraft(form) {
  if (form.querySelector(".problem") !== null) return keepDraft({ target: form });
  const kept = localStorage.getItem(DRAFT + form.dataset.draft);
  if (kept === null) return;
  const typed = JSON.parse(kept);
  const { stale } = form.dataset;
  if (stale && is_stale(form, typed[""] ?? [])) {
    const lost = in_words(form, typed);
    return lost === "" ? undefined : say(form, stale + lost + ".");
  }
  let changed = false;
  for (const field of form.elements) {
    if (field instanceof HTMLInputElement && field.type === "radio") {
      const on = typed[field.name] === field.value;
      changed = changed || (on && !field.checked);
      if (typed[field.name] !== undefined) field.checked = on;
    } else if (
      // Whether a draft was sent and saved is not always known. With its own id it is saved once.
      (field instanceof HTMLInputElement && (field.type !== "hidden" || field.name === "eid")) ||
      field instanceof HTMLTextAreaElement ||
      field instanceof HTMLSelectElement
    ) {
      const text = typed[field.name];
      if (text !== undefined && text !== field.value) {
        field.value = text;
        changed = changed || field.type !== "hidden";
      }
      if (text) keep_unit(field, typed[field.name + "_unit"]);
    }
  }
  if (!changed) return;
  form.querySelectorAll("details").forEach((more) => (more.open = true));
  say(form, "Not saved yet. This is what you typed. Check it, then save.");
}

/** What was typed in another unit than the page has now stays in its own. The keys beside it are in
 * the page's. @param {Element} field @param {string | undefined} unit */
function keep_unit(field, unit) {
  const measure = field.parentElement;
  const hidden = measure?.querySelector("[name$=_unit]");
  if (!measure || !(hidden instanceof HTMLInputElement) || !unit || hidden.value === unit) return;
  hidden.value = unit;
  for (const beside of measure.querySelectorAll("button, .unit")) beside.remove();
  const shown = document.createElement("span");
  shown.className = "unit";
  shown.textContent = unit;
  field.after(shown);
}

/** @param {HTMLFormElement} form @param {[string?, number?]} when */
function is_stale(form, [holds, at = 0]) {
  const { holds: now, fresh } = form.dataset;
  return holds !== now || Boolean(fresh && Date.now() - at > Number(fresh) * 1000);
}

/** @param {HTMLFormElement} form @param {Record<string, string>} typed */
function in_words(form, typed) {
  const said = [];
  for (const label of form.querySelectorAll("label[for]")) {
    const name = label.getAttribute("for") ?? "";
    const title = label.firstChild?.textContent?.trim();
    const field = form.elements.namedItem(name);
    const same = field instanceof HTMLInputElement && field.value === typed[name];
    if (typed[name] && !same) said.push(`${title} ${typed[name]} ${typed[name + "_unit"] ?? ""}`.trim());
  }
  return said.join(", ");
}

/** @param {HTMLElement} beside @param {string} sentence */
function say(beside, sentence) {
  beside.parentElement?.querySelector(".page-note")?.remove();
  const note = document.createElement("p");
  note.className = "alert page-note";
  note.setAttribute("role", "status");
  note.textContent = sentence;
  beside.before(note);
}

/** A number pad has no letters and often no minus: keys beside the box type them. @param {Event} event */
function press(event) {
  const key = event.target instanceof Element ? event.target.closest(KEYS) : null;
  const box = key?.parentElement?.querySelector("input");
  if (!(key instanceof HTMLElement) || !(box instanceof HTMLInputElement)) return;
  const { key: text = "", same, stay } = key.dataset;
  if (same !== undefined) box.value = same;
  else box.value = text === "-" ? text + box.value.replace(/^[-−]/, "") : box.value.trim() + text;
  // What the last visit wrote is looked at once more. What this visit wrote leads on.
  ((same !== undefined && stay === undefined && box_after(box)) || box).focus();
  box.dispatchEvent(new Event("input", { bubbles: true }));
}

/** A record goes to paper, or to another program of the phone. @param {Event} event */
function hand_on(event) {
  const button = event.target instanceof Element ? event.target.closest("[data-print], [data-share]") : null;
  if (button === null) return;
  if (button.matches("[data-print]")) return print();
  const lines = [...document.querySelectorAll(RECORD)].map((one) =>
    (one instanceof HTMLElement ? one.innerText : "").trim().replace(/\s*[\n\t]\s*/g, ": "),
  );
  const text = lines.filter((line) => line !== "").join("\n");
  if (typeof navigator.share === "function") return void navigator.share({ title: document.title, text }).catch(() => undefined);
  const done = () => (button.textContent = "Copied");
  navigator.clipboard?.writeText(text).then(done, () => undefined);
}

/** @param {HTMLInputElement} box */
function box_after(box) {
  const boxes = [...(box.form?.querySelectorAll("input[type=text], textarea") ?? [])];
  const after = boxes.slice(boxes.indexOf(box) + 1).find((one) => one.checkVisibility?.() ?? true);
  return after instanceof HTMLElement ? after : null;
}

/** The keyboard’s own key leads to the next box instead of sending half a form. @param {KeyboardEvent} event */
function next_box(event) {
  const box = event.target;
  if (event.key !== "Enter" || !(box instanceof HTMLInputElement) || box.type !== "text") return;
  const after = box_after(box);
  if (after === null) return;
  event.preventDefault();
  after.focus();
}

/** A refrigerant’s name, and a number with the word after it, are not cut in two at a line’s end.
 * @param {Element} page */
function keep_whole(page) {
  const walker = document.createTreeWalker(page, NodeFilter.SHOW_TEXT);
  const texts = [];
  while (walker.nextNode()) texts.push(/** @type {Text} */ (walker.currentNode));
  for (const text of texts) {
    const parts = text.data.split(/(R-\d\w*|\d+-\d\d-\d\d|(?:\d[\d.]* [°\w]+ )?\d[\d.]* [°\w]+)(?!\w)/);
    if (parts.length < 2 || !text.parentElement?.matches("p, li, b, dd, label, span")) continue;
    text.replaceWith(
      ...parts.map((part, i) => {
        if (i % 2 === 0) return part;
        const whole = document.createElement("span");
        whole.className = "whole";
        whole.textContent = part;
        return whole;
      }),
    );
  }
}

/** On each new page: drafts come back. */
function arrive() {
  const page = document.getElementById("page");
  if (page === null || page.dataset.arrived === "yes") return;
  page.dataset.arrived = "yes";
  try {
    for (const form of page.querySelectorAll("form[data-draft]")) {
      if (form instanceof HTMLFormElement) restoreDraft(form);
    }
  } catch {
    // No storage: nothing to restore.
  }
  const wanted = KEYS + ", [data-print], [data-share]";
  for (const key of page.querySelectorAll(wanted)) if (key instanceof HTMLElement) key.hidden = false;
  keep_whole(page);
  arrive_aloud(page);
  tick();
  page.querySelector(".field-wrong")?.scrollIntoView({ block: "center" });
}

/** After a swap the eyes and the reader's voice are at the top: the banner stays in sight, and the
 * focus is on what is new. @param {HTMLElement} page */
function begin_at_top(page) {
  if (page.querySelector(".field-wrong") !== null) {
    page.querySelector("[aria-invalid]")?.scrollIntoView({ block: "center" });
    return;
  }
  scrollTo(0, 0);
  const field = page.querySelector("[autofocus]");
  if (field instanceof HTMLElement) return field.focus({ preventScroll: true });
  const heading = page.querySelector(".walk-now") ?? page.querySelector("h1");
  if (!(heading instanceof HTMLElement)) return;
  heading.tabIndex = -1;
  heading.focus({ preventScroll: true });
}

function swap_in() {
  // A practice unit's gauges are swapped every second. That is no new page.
  if (document.getElementById("page")?.dataset.arrived === "yes") return;
  swapped = performance.now();
  touched = false;
  arrive();
  const page = document.getElementById("page");
  if (page !== null) begin_at_top(page);
}

/** A tap on a button that came up under the thumb a moment ago was meant for the page before.
 * @param {Event} event */
function guard(event) {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || touched) return;
  const name = form.action.split("/").pop() ?? "";
  if (!too_soon(name, (performance.now() - swapped) / 1000)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
}

/** An answer is here. Without a page of ours in it, as from a proxy, everything stays as it is. Else
 * the draft goes once its form is recorded: also when what is refused is a later part of the page.
 * @param {Event} event */
function receive(event) {
  const { ctx, tasks } = /** @type {CustomEvent} */ (event).detail;
  const page = tasks[0]?.fragment;
  const { status } = ctx.response;
  if (ctx.select && !page?.querySelector(ctx.select)) {
    event.preventDefault();
    return noteFailure(ctx, `The server answered “${ctx.title || status}”.`);
  }
  const { draft } = ctx.sourceElement.dataset;
  if (!draft || (status >= 400 && (status !== 422 || page.querySelector(`[data-draft="${draft}"]`)))) return;
  try {
    localStorage.removeItem(DRAFT + draft);
  } catch {
    // No storage, no draft.
  }
}

/** The form stays as it is. Its id too, so to send it again is to send the same.
 * @param {any} ctx @param {string} what */
function noteFailure(ctx, what) {
  const form = document.querySelector("form[data-draft]") ?? document.querySelector("main > *");
  if (!(form instanceof HTMLElement)) return;
  const posted = ctx?.request.method === "POST";
  say(form, posted ? what + " It may not be saved. What you typed is still here. Tap again: it is saved once." : what);
  form.previousElementSibling?.scrollIntoView({ block: "center" });
}

/** The steps done, unfolded: all in sight above the bar. @param {Event} event */
function unfold({ target }) {
  if (target instanceof Element && target.matches(".walked[open]")) target.scrollIntoView({ block: "nearest" });
}

addEventListener("toggle", unfold, true);
addEventListener("input", keepDraft);
addEventListener("change", keepDraft);
for (const kind of ["input", "change"]) addEventListener(kind, () => (touched = true), true);
addEventListener("click", press);
addEventListener("click", hand_on);
addEventListener("keydown", next_box);
addEventListener("submit", guard, true);
// The same address twice in a row is one step back, not two.
document.addEventListener("htmx:before:history:update", (event) => {
  const { history } = /** @type {CustomEvent} */ (event).detail;
  if (history.path === location.pathname) history.type = "replace";
});
document.addEventListener("htmx:after:swap", swap_in);
document.addEventListener("htmx:before:swap", receive);
document.addEventListener("htmx:error", (event) => {
  noteFailure(/** @type {CustomEvent} */ (event).detail.ctx, "No answer from the server.");
});
addEventListener("pageshow", arrive);
document.addEventListener("visibilitychange", look_again);
setInterval(tick, 250);
arrive();
