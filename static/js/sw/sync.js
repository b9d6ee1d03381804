// Sends this phone's events to the server and takes what others wrote. It runs behind the pages.
// A page waits for it only to open a session that this phone has never seen.

import { MAY_FORGET, MOST_EVENTS, MOST_WANTED, VERSION } from "../core/session/handover.js";
import { bare, key_of } from "./event_json.js";
import { WRITING } from "./keep.js";
import { asked, transact } from "./open_store.js";
import { forget } from "./second_copy.js";
import { is_whole, outline } from "./sessions.js";

/** @typedef {import("./event_json.js").EventJson} EventJson */
/** @typedef {import("./event_json.js").Key} Key */
/** @typedef {EventJson & {proof?: string}} Held an entry of another device, with the server's proof */
/** @typedef {{outcome: string, reason: string}} Verdict */
/** @typedef {{verdicts: Verdict[], events: EventJson[], cursor: string, more: boolean,
 *   restarted: boolean, proofs: string[]}} Answer */
/** @typedef {{events: Held[], device: string, cursor: string}} Batch */

const SYNCING = "lowside syncing";
const ANSWER_MS = 30_000;
const SESSION_MS = 4000;
const MOST_CHARACTERS = 1_000_000;

export const OK = "ok";
export const SIGN_IN = "sign in";
export const NO_ANSWER = "no answer";
export const TROUBLE = "trouble";

/** The server did not take the question. `link` says in what way. */
class NotSynced extends Error {
  /** @param {string} link @param {string} message */
  constructor(link, message) {
    super(message);
    this.link = link;
  }
}

/** One round at a time, and at most one more waiting. The facts keep the result.
 * @param {AbortSignal} [signal] */
export async function sync(signal) {
  const { pending } = await navigator.locks.query();
  if ((pending ?? []).some((lock) => lock.name === SYNCING)) return;
  await navigator.locks.request(SYNCING, async () => {
    let link = { outcome: OK, text: "" };
    try {
      await exchange(signal);
    } catch (error) {
      link = { outcome: error instanceof NotSynced ? error.link : TROUBLE, text: String(error) };
    }
    await note(link);
  });
}

/** The same for the install. The install must not succeed without it. */
export async function sync_or_throw() {
  await navigator.locks.request(SYNCING, () => exchange());
}

/** Try to get one whole session. When the server does not answer soon, there is none.
 * @param {string} sid */
export async function fetch_session(sid) {
  try {
    const facts = await read_batch(null);
    const question = { ...facts, events: [], want: [sid] };
    const answer = await ask(question, AbortSignal.timeout(SESSION_MS));
    // The cursor is not used: this round was about one session.
    await take({ ...answer, cursor: facts.cursor }, []);
  } catch (error) {
    if (!(error instanceof NotSynced)) throw error;
  }
}

/** Send everything, take everything. @param {AbortSignal} [signal] */
async function exchange(signal) {
  /** @type {Key | null} */
  let sent = null;
  /** @type {Set<string>} */
  const wanted = new Set();
  /** @type {string[]} */
  let want = [];
  for (;;) {
    const batch = await read_batch(sent);
    const answer = await ask({ ...batch, want }, signal ?? AbortSignal.timeout(ANSWER_MS));
    if (answer.verdicts.length !== batch.events.length) {
      throw new NotSynced(TROUBLE, "The server did not answer each entry.");
    }
    const partial = await take(answer, batch.events);
    want = partial.filter((sid) => !wanted.has(sid)).slice(0, MOST_WANTED);
    for (const sid of want) wanted.add(sid);
    const last = batch.events.at(-1);
    sent = answer.restarted ? null : last ? key_of(last) : sent;
    if (!answer.more && want.length === 0 && !(await more_after(sent))) return;
  }
}

/** Unsent events after a key, in the order of their numbers. @param {Key | null} after
 * @returns {Promise<Batch>} */
function read_batch(after) {
  const range = after === null ? null : IDBKeyRange.lowerBound(after, true);
  return transact(["unsent", "events", "facts"], "readonly", async (table) => {
    const keys = await asked(table("unsent").getAllKeys(range, MOST_EVENTS));
    /** @type {Batch} */
    const batch = {
      events: [],
      device: await asked(table("facts").get("device")),
      cursor: (await asked(table("facts").get("cursor"))) ?? "",
    };
    const events = await Promise.all(keys.map((key) => asked(table("events").get(key))));
    let size = 0;
    for (const event of events) {
      size += JSON.stringify(event).length;
      if (size > MOST_CHARACTERS && batch.events.length > 0) break;
      batch.events.push(event);
    }
    return batch;
  });
}

/** @param {Key | null} key */
async function more_after(key) {
  const range = key === null ? undefined : IDBKeyRange.lowerBound(key, true);
  const left = await transact(["unsent"], "readonly", (table) => asked(table("unsent").count(range)));
  return left > 0;
}

/** @param {Batch & {want: string[]}} question @param {AbortSignal} signal
 * @returns {Promise<Answer>} */
async function ask(question, signal) {
  const { device, cursor, want } = question;
  const events = question.events.map(bare);
  const proofs = question.events.map(({ proof }) => proof ?? "");
  let response;
  let answer;
  try {
    response = await fetch("/api/sync", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ v: VERSION, dev: device, cursor, events, want, proofs }),
      signal,
      cache: "no-store",
      redirect: "error",
    });
    answer = await response.json().catch(() => null);
  } catch (error) {
    throw new NotSynced(NO_ANSWER, String(error));
  }
  if (response.status === 401) throw new NotSynced(SIGN_IN, "");
  // Only a whole answer with status 200 acknowledges anything.
  if (response.status !== 200 || answer?.v !== VERSION) {
    throw new NotSynced(TROUBLE, answer?.error ?? `The server answered ${response.status}.`);
  }
  return answer;
}

/** Act on an answer, all in one transaction. Gives the sessions whose start is not here: the
 * server sends what is new, also of a session that this phone was never sent.
 * @param {Answer} answer @param {Held[]} sent @returns {Promise<string[]>} */
async function take(answer, sent) {
  /** @type {string[]} */
  const partial = [];
  // An entry that the server gave out and does not take back is no work of this phone. By its writer
  // it cannot be told: a phone whose store was emptied has another name than its older entries.
  const settled = sent.filter(({ proof }, i) => proof || MAY_FORGET.includes(answer.verdicts[i].outcome));
  await navigator.locks.request(WRITING, () =>
    transact(["events", "unsent", "sessions", "facts"], "readwrite", async (table) => {
      sent.forEach((event, i) => {
        if (settled.includes(event)) table("unsent").delete(key_of(event));
        else table("unsent").put({ refused: answer.verdicts[i].reason }, key_of(event));
      });
      const changed = new Set();
      for (const [i, event] of answer.events.entries()) {
        if ((await asked(table("events").getKey(key_of(event)))) !== undefined) continue;
        table("events").put({ ...event, proof: answer.proofs[i] }, key_of(event));
        changed.add(event.sid);
      }
      for (const sid of changed) {
        const events = await outline(table, sid);
        if (!is_whole(events)) partial.push(sid);
      }
      if (answer.restarted) await offer_again(table);
      table("facts").put(answer.cursor, "cursor");
    }),
  );
  await forget(settled.map(key_of));
  return partial;
}

/** The server may have lost what it once acknowledged, as when it was restored from a copy. So all
 * that this phone has waits to be sent again; what others wrote goes with its proof.
 * @param {(name: string) => IDBObjectStore} table */
async function offer_again(table) {
  /** @type {Held[]} */
  const held = await asked(table("events").getAll());
  for (const event of held) {
    const key = key_of(event);
    if ((await asked(table("unsent").getKey(key))) === undefined) {
      table("unsent").put({ refused: "" }, key);
    }
  }
}

/** @param {{outcome: string, text: string}} link */
function note(link) {
  return transact(["facts"], "readwrite", (table) => {
    table("facts").put(link, "link");
  }).catch(() => undefined);
}
