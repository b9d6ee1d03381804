// Tells every open page whether this phone has sent everything to the server.

import { ticket_number } from "../core/pages/wording.js";
import { why_stopped } from "./keep.js";
import { asked, transact } from "./open_store.js";
import { why_not_sent } from "./photos.js";

/** @typedef {import("../link_words.js").LinkState} LinkState */

export class Links {
  /** @param {ServiceWorkerGlobalScope} worker @param {string} version */
  constructor(worker, version) {
    this._worker = worker;
    this._version = version;
  }

  async tell() {
    // The pages first: nothing may come between reading the state and telling it.
    const pages = await this._worker.clients.matchAll({ type: "window" });
    const state = await link_state(this._version);
    for (const page of pages) page.postMessage(state);
  }
}

/** @param {string} version @returns {Promise<LinkState>} */
async function link_state(version) {
  try {
    return await transact(["unsent", "facts", "photos"], "readonly", async (table) => {
      const keys = await asked(table("unsent").getAllKeys());
      const marks = await asked(table("unsent").getAll());
      const link = (await asked(table("facts").get("link"))) ?? { outcome: "", text: "" };
      return {
        unsent: keys.length,
        refused: marks.find((mark) => mark.refused !== "")?.refused ?? "",
        tickets: new Map(keys.map((key) => /** @type {string[]} */ (key)[0]).map((sid) => [sid, ticket_number(sid)])),
        outcome: link.outcome,
        text: link.text,
        stopped: why_stopped(),
        photos: await asked(table("photos").count()),
        no_photo: why_not_sent(),
        version,
      };
    });
  } catch (error) {
    const stopped = `The entries on this phone cannot be read: ${error}`;
    return { unsent: 0, refused: "", tickets: new Map(), outcome: "", text: "", stopped, photos: 0, no_photo: "", version };
  }
}
