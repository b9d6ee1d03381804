// A second copy of every unsent event, in the Cache API. Chromium can empty all of IndexedDB after
// the disk was full; the cache is kept elsewhere. recover.js puts back what is missing.

/** @typedef {import("./event_json.js").EventJson} EventJson */

const CACHE = "unsent";
/** Most characters of an event that goes into a header. A header takes Chromium a third of the time
 * of a body. A longer event is a body: not every browser says how long a header may be. */
const SHORT = 4096;
const HEADER = "event";

/** Opened once in a worker's life. @type {Promise<Cache> | null} */
let opened = null;

function the_cache() {
  opened ??= caches.open(CACHE).catch((error) => {
    opened = null;
    throw error;
  });
  return opened;
}

/** @param {EventJson} event */
export async function copy(event) {
  const cache = await the_cache();
  await cache.put(address_of([event.sid, event.dev, event.seq]), response_of(event));
}

/** @param {[string, string, number][]} keys */
export async function forget(keys) {
  const cache = await the_cache();
  await Promise.all(keys.map((key) => cache.delete(address_of(key))));
}

/** The keys of all copies. @returns {Promise<[string, string, number][]>} */
export async function copied() {
  const cache = await the_cache();
  return (await cache.keys()).map((request) => key_in(new URL(request.url).pathname));
}

/** The events of these copies. @param {[string, string, number][]} keys
 * @returns {Promise<EventJson[]>} */
export async function copies(keys) {
  const cache = await the_cache();
  const found = await Promise.all(keys.map((key) => cache.match(address_of(key))));
  const whole = found.filter((response) => response !== undefined);
  return Promise.all(whole.map(event_in));
}

/** @param {EventJson} event */
function response_of(event) {
  const text = JSON.stringify(event);
  const encoded = encodeURIComponent(text);
  if (encoded.length > SHORT) return new Response(text);
  return new Response(null, { headers: { [HEADER]: encoded } });
}

/** @param {Response} response @returns {Promise<EventJson>} */
async function event_in(response) {
  const encoded = response.headers.get(HEADER);
  return encoded === null ? response.json() : JSON.parse(decodeURIComponent(encoded));
}

/** Whether there is room on the disk: writes something large and removes it. */
export async function has_room(bytes = 262_144) {
  const probe = "/second-copy/probe";
  const cache = await caches.open(CACHE + " probe");
  try {
    await cache.put(probe, new Response(new Uint8Array(bytes)));
    return true;
  } catch {
    return false;
  } finally {
    await caches.delete(CACHE + " probe").catch(() => false);
  }
}

/** @param {[string, string, number]} key */
function address_of([sid, dev, seq]) {
  return `/second-copy/${sid}/${dev}/${seq}`;
}

/** @param {string} path @returns {[string, string, number]} */
function key_in(path) {
  const [sid, dev, seq] = path.split("/").slice(2);
  return [sid, dev, Number(seq)];
}
