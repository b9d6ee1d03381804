// Photos: made small, shown from this phone's store, and sent one at a time after the entries.

import { ROOM, TOO_FULL, photo_texts, sizes_to_try } from "../core/session/photos.js";
import { MOST_BYTES } from "../core/handbook/photo_form.js";
import { asked, transact } from "./open_store.js";
import { has_room } from "./second_copy.js";
import { hex_sha256 } from "./shell.js";

const PHOTO_MS = 60_000;

const AGAIN_MS = 600_000;

/** By name: why the server did not take a photo, and when to offer it again. It is right to lose
 * this with the worker. @type {Map<string, {why: string, at: number}>} */
const refused = new Map();

/** Why a photo is still here although the server answered, or "". */
export function why_not_sent() {
  return [...refused.values()][0]?.why ?? "";
}

/** A picture as small as the core wants it, with nothing in the file but the picture. What is said of
 * it goes into `typed`; nothing does when it cannot be read.
 * @param {Blob} file @param {Map<string, string>} typed */
export async function made_small(file, typed) {
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    if (!(await has_room(ROOM))) return void typed.set("photo", TOO_FULL);
    for (const [width, height, quality] of sizes_to_try(picture.width, picture.height)) {
      const canvas = new OffscreenCanvas(width, height);
      canvas.getContext("2d")?.drawImage(picture, 0, 0, width, height);
      const blob = await canvas.convertToBlob({ type: "image/jpeg", quality: quality / 100 });
      const photo = bare_jpeg(new Uint8Array(await blob.arrayBuffer()));
      if (photo.length > MOST_BYTES) continue;
      const name = await hex_sha256(photo);
      for (const [field, text] of photo_texts(name, photo.length, width, height)) typed.set(field, text);
      return photo;
    }
  } catch {
    // No picture, or none that this browser can read. The core says so.
  }
  return undefined;
}

/** A JPEG without what some browsers write into it beside the picture: APP and COM segments.
 * @param {Uint8Array} jpeg */
export function bare_jpeg(jpeg) {
  const bytes = [...jpeg];
  let at = 2;
  while (at < bytes.length && bytes[at + 1] !== 0xda) {
    const size = 2 + ((bytes[at + 2] << 8) | bytes[at + 3]);
    if (bytes[at + 1] < 0xe0) at += size;
    else bytes.splice(at, size);
  }
  return new Uint8Array(bytes);
}

/** The picture from this phone, else from the server.
 * @param {Request} request @param {string} path @param {Record<string, string>} headers */
export async function photo_file(request, path, headers) {
  const photo = await kept(path.slice(0, -4).split("/").slice(2));
  if (photo === undefined) return fetch(request);
  return new Response(photo, { headers: { ...headers, "Content-Type": "image/jpeg" } });
}

/** One after the other; each is forgotten when the server has it. Entries are sent meanwhile. */
export function send_photos() {
  return navigator.locks.request("lowside photos", { ifAvailable: true }, async (lock) => {
    const keys = lock && (await transact(["photos"], "readonly", (table) => asked(table("photos").getAllKeys())));
    for (const key of /** @type {[string, string][]} */ (keys ?? [])) {
      if ((refused.get(key[1])?.at ?? 0) > Date.now()) continue;
      const response = await fetch(`/api/photo/${key.join("/")}`, {
        method: "POST",
        headers: { "Content-Type": "image/jpeg" },
        body: await kept(key),
        signal: AbortSignal.timeout(PHOTO_MS),
      });
      const answer = await response.json().catch(() => ({}));
      // Only a whole answer that names it lets it go.
      if (answer.stored === key[1]) {
        refused.delete(key[1]);
        await transact(["photos"], "readwrite", (table) => table("photos").delete(key));
      } else if (answer.error || [413, 500].includes(response.status)) {
        refused.set(key[1], { why: answer.error ?? `The server answered ${response.status}.`, at: Date.now() + AGAIN_MS });
      } else return; // A proxy’s trouble is no photo’s: all go at the next sync.
    }
  }).catch(() => undefined);
}

/** @param {string[]} key @returns {Promise<BlobPart | undefined>} */
function kept(key) {
  return transact(["photos"], "readonly", (table) => asked(table("photos").get(key)));
}
