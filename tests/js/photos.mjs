// Answers for tests/web/phone/test_photos_on_phone.py: the phone's way to make a photo small, with a
// canvas that only says how large its file would be.

// A name that is made here, so that the worker's types are checked with a worker's library only.
const { bare_jpeg, made_small } = await import(["..", "sw", "photos.js"].join("/"));

const world = /** @type {any} */ (globalThis);

/** @param {any} question */
export async function answer({ bare, picture, sizes, room }) {
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
