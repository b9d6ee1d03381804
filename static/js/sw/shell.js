// The files that every page needs, kept with their version.

/** @typedef {import("./made.js").Made} Made */

const PREFIX = "shell ";

export class Shell {
  /** @param {Made} made */
  constructor(made) {
    this._precached = made.precached;
    this._sha256 = made.precached_sha256;
    this._name = PREFIX + made.version;
  }

  /** Fetch every file. It fails, and the install with it, unless all are the ones meant. */
  async fill() {
    const files = await Promise.all(
      this._precached.map(async (url) => {
        const response = await fetch(url, { cache: "no-store" });
        if (!response.ok) throw new Error(`${url} was answered with ${response.status}`);
        return { url, response, sha256: await hex_sha256(await response.clone().arrayBuffer()) };
      }),
    );
    const all = files.map(({ sha256 }) => sha256).join("");
    if ((await hex_sha256(new TextEncoder().encode(all))) !== this._sha256) {
      throw new Error("a file is not the one meant");
    }
    const cache = await caches.open(this._name);
    await Promise.all(files.map(({ url, response }) => cache.put(url, response)));
  }

  /** Remove the files of earlier workers. */
  async drop_others() {
    for (const name of await caches.keys()) {
      if (name.startsWith(PREFIX) && name !== this._name) await caches.delete(name);
    }
  }

  /** Whether it answers this request. Office pages always get the server's own files.
   * @param {Request} request @param {URL} url */
  has(request, url) {
    if (request.method !== "GET" || !this._precached.includes(url.pathname)) return false;
    const page = request.referrer === "" ? "/" : new URL(request.referrer).pathname;
    return !page.startsWith("/office");
  }

  /** @param {Request} request @param {URL} url */
  async answer(request, url) {
    const cache = await caches.open(this._name);
    return (await cache.match(url.pathname)) ?? fetch(request);
  }
}

/** @param {BufferSource} content */
export async function hex_sha256(content) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", content));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
