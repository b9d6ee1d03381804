// Answers for tests/web/phone/test_photos_on_phone.py: the phone's way to make a photo small, with a
// canvas that only says how large its file would be. And for test_photos_and_proxies.py: how the
// photos that wait are sent, with a store of photos alone and a server of given answers.

// A name that is made here, so that the worker's types are checked with a worker's library only.
const { bare_jpeg, made_small, send_photos, why_not_sent } = await import(["..", "sw", "photos.js"].join("/"));

const world = /** @type {any} */ (globalThis);

/** @param {any} question */
export async function answer({ bare, picture, sizes, room, waiting, answers }) {
  if (waiting !== undefined) return sent(waiting, answers);
  if (bare !== undefined) return Buffer.from(bare_jpeg(Buffer.from(bare, "hex"))).toString("hex");
  /** @type {string[]} */
  const tried = [];
  world.caches = { open: async () => ({ put: filled(room) }), delete: async () => true };
  world.createImageBitmap = async (/** @type {Blob} */ _, /** @type {any} */ how) => {
    if (picture === null) throw new Error("no picture");
    if (how.imageOrientation !== "from-image") throw new Error("turned");
    return { width: picture[0], height: picture[1] };
  };
  world.OffscreenCanvas = class {
    /** @param {number} width @param {number} height */
    constructor(width, height) {
      this.at = `${width}x${height}`;
    }
    getContext() {
      return { drawImage: () => undefined };
    }
    /** @param {{type: string, quality: number}} how */
    async convertToBlob({ type, quality }) {
      const at = `${this.at} ${type} ${quality}`;
      tried.push(at);
      const size = sizes[tried.length - 1] ?? 4;
      return new Blob([new Uint8Array([0xff, 0xd8, 0xff, 0xda]), new Uint8Array(size - 4)]);
    }
  };
  /** @type {Map<string, string>} */
  const typed = new Map();
  const photo = await made_small(new Blob(["x"]), typed);
  return { tried, typed: Object.fromEntries(typed), size: photo?.length ?? 0 };
}

/** A cache that takes so many bytes. @param {number} most */
function filled(most) {
  return async (/** @type {string} */ _, /** @type {Response} */ response) => {
    if ((await response.arrayBuffer()).byteLength > most) throw new Error("full");
  };
}

/** The names of the photos that wait. @type {string[]} */
let names = [];

/** One round of sending. @param {string[]} waiting @param {Record<string, [number, string]>} answers */
async function sent(waiting, answers) {
  names = waiting;
  /** @type {string[]} */
  const tried = [];
  world.indexedDB = { open: () => soon({ result: { transaction } }, "onsuccess") };
  const locks = { request: (/** @type {any} */ _, /** @type {any} */ how, /** @type {any} */ work) => work(how) };
  Object.defineProperty(world, "navigator", { value: { locks }, configurable: true });
  world.fetch = async (/** @type {string} */ url) => {
    const name = url.split("/").at(-1) ?? "";
    tried.push(name);
    const [status, text] = answers[name] ?? [200, JSON.stringify({ stored: name })];
    return new Response(text, { status });
  };
  await send_photos();
  return { tried, left: names, why: why_not_sent() };
}

function transaction() {
  const table = {
    getAllKeys: () => soon({ result: names.map((name) => ["SID", name]) }, "onsuccess"),
    get: () => soon({ result: new Uint8Array(9) }, "onsuccess"),
    delete: (/** @type {string[]} */ key) => void (names = names.filter((name) => name !== key[1])),
  };
  return soon({ objectStore: () => table }, "oncomplete");
}

/** It happens once those who wait for it have said so. @param {any} it @param {string} what */
function soon(it, what) {
  setTimeout(() => it[what]?.(), 0);
  return it;
}
