// @ts-check
/**
 * Takes the offline copy, tells whether this phone has sent everything to the server, and keeps the
 * screen on while a clock runs.
 */

/** @typedef {import("./link_words.js").LinkState} LinkState */

const SYNC_EVERY_MS = 15_000;
const SAID_FOR_MS = 6000;

/** The worker's last message. @type {LinkState | null} */
let state = null;
/** A form was sent, and the worker's last message is older than its answer.
 * @type {"" | "sent" | "answered"} */
let saving = "";
/** Entries waited for the server; and whether the page still says that they went. */
let owed = false;
let just_sent = false;
/** A worker of a newer version. It waits until it is let in. @type {ServiceWorker | null} */
let waiting = null;
/** @type {WakeLockSentinel | null} */
let awake = null;
/** Why there is no offline copy, or "". */
let without = "";

const workers = "serviceWorker" in navigator ? navigator.serviceWorker : null;

async function take_offline_copy() {
  if (workers === null) {
    without = isSecureContext
      ? "Needs the server: this browser cannot keep an offline copy."
      : "Needs the server. Offline work does not work at this address: a browser keeps an offline copy only of " +
        "an https address.";
    return show();
  }
  workers.addEventListener("message", (event) => {
    // Said once: after entries had to wait and went.
    if (event.data.unsent > 0) owed = owed || !["", "ok"].includes(event.data.outcome);
    else if (owed && event.data.outcome === "ok") {
      owed = false;
      just_sent = true;
      setTimeout(() => {
        just_sent = false;
        show();
      }, SAID_FOR_MS);
    }
    state = event.data;
    // An entry that waits is told of only once it is kept.
    if (saving === "answered" || event.data.unsent > 0) saving = "";
    show();
  });
  workers.addEventListener("controllerchange", () => {
    if (waiting !== null) location.reload();
    ask("state");
    ask("sync");
  });
  workers.startMessages();
  show();
  ask("state");
  ask("sync");
  try {
    const registration = await workers.register("/sw.js", { updateViaCache: "none" });
    notice_update(registration);
    registration.addEventListener("updatefound", () => {
      const coming = registration.installing;
      coming?.addEventListener("statechange", () => {
        notice_update(registration);
        if (coming.state === "redundant" && registration.active === null) take_again_later();
      });
    });
    if (registration.active !== null) await navigator.storage?.persist?.();
  } catch {
    // The server is away, the phone is not signed in, or there is no connection yet. The next page
    // tries again.
    take_again_later();
  }
}

/** The install failed, and the page still needs the server. */
function take_again_later() {
  setTimeout(() => {
    if (workers !== null && workers.controller === null) {
      workers.register("/sw.js", { updateViaCache: "none" }).catch(take_again_later);
    }
  }, SYNC_EVERY_MS);
}

/** @param {ServiceWorkerRegistration} registration */
function notice_update(registration) {
  if (registration.waiting !== null && workers?.controller !== null) {
    waiting = registration.waiting;
    show();
  }
}

/** @param {"sync" | "state"} what */
function ask(what) {
  workers?.controller?.postMessage(what);
}

function show() {
  const place = document.getElementById("link");
  // A worker is in charge and will say how things are: until then nothing is said.
  if (place === null || (workers?.controller != null && state === null)) return;
  const [quiet, text] = words();
  const before = place.dataset.text;
  const tickets = [...(state?.tickets ?? [])];
  const now = JSON.stringify([quiet, text, tickets, update_offered()]);
  if (before === now) return;
  place.dataset.text = now;
  place.className = quiet ? "link link-quiet" : "link";
  place.replaceChildren(text);
  for (const [sid, number] of quiet ? [] : tickets) {
    const save = document.createElement("a");
    save.href = `/unsent/${sid}.jsonl`;
    save.textContent = `Save ticket ${number} to a file`;
    place.append(" ", save);
  }
  if (state?.outcome === "sign in" && !quiet) {
    const sign_in = document.createElement("a");
    sign_in.href = "/pair";
    sign_in.textContent = "Sign in";
    place.append(" ", sign_in);
  }
  if (update_offered()) {
    const use = document.createElement("button");
    use.type = "button";
    use.className = "link-button";
    use.textContent = "Use the new version";
    use.addEventListener("click", () => waiting?.postMessage("use the new version"));
    place.append(" ", use);
  }
  place.hidden = false;
}

function update_offered() {
  return waiting !== null && document.querySelector(".page-home") !== null;
}

/** Whether it is only good news, and the words. @returns {[boolean, string]} */
function words() {
  if (workers?.controller == null || state === null) {
    return [false, without || "Needs the server until the offline copy is ready."];
  }
  if (state.stopped !== "") return [false, state.stopped];
  if (state.unsent === 0 && saving !== "") return [true, "Saving"];
  if (state.unsent + state.photos === 0) return [true, just_sent ? "All sent. Ready for offline" : "Ready for offline"];
  if (state.unsent === 0) return [state.no_photo === "", `Photos waiting to be sent: ${state.photos}. ${state.no_photo}`];
  const entries = state.unsent === 1 ? "1 entry" : `${state.unsent} entries`;
  if (state.outcome === "sign in") return [false, `Sign in to send ${entries}. They stay here.`];
  if (state.refused !== "") return [false, `The server did not take ${entries}. ${state.refused}`];
  const why = state.outcome === "trouble" ? ` ${state.text}` : "";
  // The last round went well and the next one is on its way: no more than news.
  return [state.outcome === "ok", `${entries} waiting to be sent.${why}`];
}

/** While a clock runs, a hand is on a valve and the screen must stay readable. */
async function keep_awake() {
  const wanted =
    document.visibilityState === "visible" && document.querySelector("[data-elapsed]") !== null;
  try {
    if (wanted && awake === null && "wakeLock" in navigator) {
      awake = await navigator.wakeLock.request("screen");
      awake.addEventListener("release", () => (awake = null));
    } else if (!wanted) {
      await awake?.release();
    }
  } catch {
    // Low battery or not allowed: the phone's own time-out applies.
  }
}

function look() {
  void keep_awake();
  if (document.visibilityState === "visible") ask("sync");
}

addEventListener("submit", () => {
  saving = "sent";
  show();
});
// Also where no answer came, or it came from the server past the worker.
document.addEventListener("htmx:finally:request", () => {
  if (saving === "") return;
  saving = "answered";
  ask("state");
});
addEventListener("online", look);
document.addEventListener("visibilitychange", look);
document.addEventListener("htmx:after:swap", () => {
  show();
  void keep_awake();
});
setInterval(look, SYNC_EVERY_MS);
void keep_awake();
void take_offline_copy();
