// The phone's store in IndexedDB: five tables, their migrations, and transactions.
//
//   events    [sid, dev, seq] -> the event as it is sent; `proof` too when the server sent it
//   unsent    [sid, dev, seq] -> {refused}: not yet at the server; `refused` is its reason, or ""
//   sessions  sid -> what lists need of a session; derived, made again when the rules change
//   photos    [sid, name] -> the bytes of a photo that is not yet at the server
//   facts     device, cursor, rules, link

const DATABASE = "lowside";

/** Migration n brings version n to n + 1. Never edit a released one; add another. They run when a
 * worker takes charge, never while another one works.
 * @type {((db: IDBDatabase) => void)[]} */
const MIGRATIONS = [
  (db) => {
    db.createObjectStore("events");
    db.createObjectStore("unsent");
    db.createObjectStore("sessions", { keyPath: "sid" });
    db.createObjectStore("facts");
  },
  (db) => {
    db.createObjectStore("photos");
  },
];

/** The connection of this worker's life. It is only a shortcut.
 * @type {Promise<IDBDatabase> | null} */
let connection = null;

/** Called when the connection is gone, and with it everything that was known of the store.
 * @type {(() => void)[]} */
const listeners = [];

/** @param {() => void} listener */
export function when_lost(listener) {
  listeners.push(listener);
}

/** Called when events are being written, and when they were written.
 * @type {(() => void)[]} */
const readers = [];

/** Called before and after every transaction that may change `events` or `sessions`.
 * @param {() => void} reader */
export function when_written(reader) {
  readers.push(reader);
}

/** How to end each transaction that has not ended yet.
 * @type {Map<IDBTransaction, (reason: DOMException) => void>} */
const under_way = new Map();

/** The browser closed a connection, as when the disk under it fails. Chromium then ends some of its
 * transactions without a word: who waits for one would wait for ever. @param {IDBDatabase} db */
function closed(db) {
  lose();
  for (const [transaction, end] of under_way) {
    if (transaction.db === db) end(new DOMException("The store was closed.", "AbortError"));
  }
}

function lose() {
  connection = null;
  for (const listener of listeners) listener();
}

/** @param {boolean} writes */
function tell_readers(writes) {
  if (writes) for (const reader of readers) reader();
}

/**
 * Run `work` in one transaction. Resolves when it is on the disk, not before.
 *
 * `work` may await only `asked(…)`: a transaction ends as soon as it has nothing to do.
 *
 * @template T
 * @param {string[]} tables @param {IDBTransactionMode} mode
 * @param {(table: (name: string) => IDBObjectStore) => T | Promise<T>} work
 * @returns {Promise<T>}
 */
export async function transact(tables, mode, work) {
  let transaction;
  try {
    transaction = begin(await connected(), tables, mode);
  } catch (error) {
    // Phones close connections in the background. Nothing was done yet, so a second try is safe.
    if (!(error instanceof DOMException) || error.name !== "InvalidStateError") throw error;
    lose();
    transaction = begin(await connected(), tables, mode);
  }
  const begun = transaction;
  const writes = mode === "readwrite" && tables.includes("events");
  tell_readers(writes);
  const ended = end_of(begun);
  // While `work` runs, nobody awaits `ended`. Its failure is still reported below.
  ended.catch(() => undefined);
  let result;
  try {
    const failed = ended.then(() => new Promise(() => undefined));
    result = await Promise.race([work((name) => begun.objectStore(name)), failed]);
  } catch (error) {
    try {
      begun.abort();
    } catch {
      // It ended by itself. Its own error says more.
      await ended;
    }
    tell_readers(writes);
    throw error;
  }
  await ended.finally(() => tell_readers(writes));
  return result;
}

/** @param {IDBTransaction} transaction @returns {Promise<void>} */
function end_of(transaction) {
  /** @type {Promise<void>} */
  const ended = new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () =>
      reject(transaction.error ?? new DOMException("aborted", "AbortError"));
    under_way.set(transaction, reject);
  });
  return ended.finally(() => under_way.delete(transaction));
}

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
export function asked(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** Every key of a session in `events` and `unsent`. @param {string} sid */
export function of_session(sid) {
  return IDBKeyRange.bound([sid], [sid, []]);
}

/** Forget the connection, for example when the disk under it failed. */
export async function disconnect() {
  const open = connection;
  lose();
  try {
    (await open)?.close();
  } catch {
    // It was never open.
  }
}

/** @param {IDBDatabase} db @param {string[]} tables @param {IDBTransactionMode} mode */
function begin(db, tables, mode) {
  return db.transaction(tables, mode, { durability: mode === "readwrite" ? "strict" : "default" });
}

function connected() {
  connection ??= open().catch((error) => {
    connection = null;
    throw error;
  });
  return connection;
}

/** @returns {Promise<IDBDatabase>} */
function open() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(DATABASE, MIGRATIONS.length);
    request.onupgradeneeded = (event) => {
      for (const migrate of MIGRATIONS.slice(event.oldVersion)) migrate(request.result);
    };
    request.onerror = () => reject(request.error);
    request.onsuccess = () => {
      const db = request.result;
      db.onclose = () => closed(db);
      db.onversionchange = () => {
        lose();
        db.close();
      };
      resolve(db);
    };
  });
}
