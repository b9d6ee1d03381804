// Which addresses the phone answers itself.

/** The field pages and their forms, and nothing else. @param {string} path */
export function on_field(path) {
  return path === "/" || path === "/start" || path === "/s" || path.startsWith("/s/");
}
