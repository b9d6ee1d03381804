// The phone's server: what this worker does on each event, and nothing else. docs/offline.md says
// why each rule is there. Rules about charging are in the core only.

import { FieldPages } from "./answer.js";
import { on_field } from "./addresses.js";
import { Links } from "./link_state.js";
import { recover } from "./recover.js";
import { photo_file, send_photos } from "./photos.js";
import { Shell } from "./shell.js";
import { sync, sync_or_throw } from "./sync.js";
import { unsent_file } from "./unsent_file.js";

/** @typedef {import("./made.js").Made} Made */

const FIRST_ACTIVATION_MS = 5000;
const AFTER_A_FORM_MS = 100;

/** The made script calls this once, as soon as the worker starts. @param {Made} made */
export function start(made) {
  const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (globalThis));
  const shell = new Shell(made);
  const pages = new FieldPages(made);
  const links = new Links(worker, made.version);

  worker.addEventListener("install", (event) => {
    event.waitUntil(install());
  });

  worker.addEventListener("activate", (event) => {
    event.waitUntil(activate());
  });

  worker.addEventListener("fetch", (event) => {
    const url = new URL(event.request.url);
    if (url.origin !== worker.location.origin) return;
    const posted = event.request.method === "POST";
    // A page of another site can send a form here too. The server sees where from, and refuses it.
    if (posted && event.request.mode === "navigate" && !event.request.referrer.startsWith(url.origin + "/")) return;
    if (on_field(url.pathname)) {
      const answered = pages.answer(event.request, url);
      event.respondWith(answered);
      // Never before the answer: no tap waits for the network.
      if (posted) event.waitUntil(answered.then(hand_over));
    } else if (url.pathname.startsWith("/unsent/")) {
      event.respondWith(unsent_file(url.pathname, made.headers));
    } else if (url.pathname.startsWith("/photo/")) {
      event.respondWith(photo_file(event.request, url.pathname, made.headers));
    } else if (shell.has(event.request, url)) {
      event.respondWith(shell.answer(event.request, url));
    } else if (event.request.mode === "navigate" && event.request.method === "GET") {
      event.respondWith(fetch(event.request).catch(() => pages.needs_server(url.pathname)));
    }
  });

  worker.addEventListener("message", (event) => {
    if (event.data === "sync") event.waitUntil(sync_and_tell());
    if (event.data === "state") event.waitUntil(links.tell());
    // Only a button on the first page sends this. No entry is half written there.
    if (event.data === "use the new version") event.waitUntil(worker.skipWaiting());
  });

  /** An installed worker has all it needs. A worker that cannot get it is not installed. */
  async function install() {
    await shell.fill();
    // The worker in charge owns the store. Its successor waits until it is in charge.
    if (worker.registration.active !== null) return;
    await recover(made);
    await sync_or_throw();
  }

  async function activate() {
    await shell.drop_others();
    if (await recover(made)) {
      // Until now the server answered, so pages may have written there since the install.
      await sync(AbortSignal.timeout(FIRST_ACTIVATION_MS));
    }
    await worker.clients.claim();
    await links.tell();
  }

  /** After a form the pages are told at once that an entry waits, and it is sent soon. */
  async function hand_over() {
    await links.tell();
    await quiet();
    await sync_and_tell();
  }

  /** The page that follows a form comes first. */
  function quiet() {
    return new Promise((resolve) => {
      setTimeout(resolve, AFTER_A_FORM_MS);
    });
  }

  async function sync_and_tell() {
    await links.tell();
    await recover(made);
    await sync();
    await links.tell();
    await send_photos();
    await links.tell();
  }
}
