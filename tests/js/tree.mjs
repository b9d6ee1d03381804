// What TypeScript's parser makes of a script: whether two say the same, what it says, and which
// names nobody defines.

import { readFileSync } from "node:fs";
import ts from "typescript";

/** @param {{ compared?: string[], script?: string, texts?: string[] }} question paths of scripts */
export function answer({ compared, script, texts }) {
  if (texts !== undefined) return [...new Set(texts.flatMap((path) => texts_of(parsed(path))))];
  if (compared !== undefined) return difference(parsed(compared[0]), parsed(compared[1]));
  return [...undefined_names(parsed(script ?? ""))];
}

/** @param {string} path */
function parsed(path) {
  return ts.createSourceFile(path, readFileSync(path, "utf8"), ts.ScriptTarget.Latest, true);
}

/** The first place where two trees differ, or null.
 * @param {ts.Node} a @param {ts.Node} b @returns {string | null} */
function difference(a, b) {
  const [mine, other] = [children(a), children(b)];
  if (a.kind !== b.kind || mine.length !== other.length) return shown(a, b);
  if (meaning(a) !== meaning(b)) return shown(a, b);
  for (let i = 0; i < mine.length; i += 1) {
    const found = difference(mine[i], other[i]);
    if (found !== null) return found;
  }
  return null;
}

/** What a node says beside its kind and its parts: text, sign, `const` or `let`. @param {any} node */
function meaning(node) {
  if (ts.isSourceFile(node)) return "";
  return JSON.stringify([node.text, node.operator, node.flags & ts.NodeFlags.BlockScoped]);
}

/** @param {ts.Node} a @param {ts.Node} b */
function shown(a, b) {
  return `${a.getText().slice(0, 200)}  ≠  ${b.getText().slice(0, 200)}`;
}

/** What it says: every text, and every fixed part of one in backticks.
 * @param {ts.Node} node @returns {string[]} */
function texts_of(node) {
  const own = ts.isStringLiteralLike(node) || ts.isTemplateLiteralToken(node) ? [node.text] : [];
  return [...own, ...children(node).flatMap(texts_of)];
}

/** @param {ts.Node} node */
function children(node) {
  /** @type {ts.Node[]} */
  const found = [];
  ts.forEachChild(node, (child) => {
    found.push(child);
  });
  return found;
}

/** Names that are used, but that the script and the language do not define. @param {ts.SourceFile} file */
function undefined_names(file) {
  const options = {
    allowJs: true,
    checkJs: true,
    noEmit: true,
    target: ts.ScriptTarget.ES2022,
    lib: ["lib.es2022.d.ts", "lib.webworker.d.ts"],
    types: [],
  };
  const host = ts.createCompilerHost(options);
  const read = host.getSourceFile;
  host.getSourceFile = (name, ...rest) => (name === file.fileName ? file : read(name, ...rest));
  const program = ts.createProgram([file.fileName], options, host);
  const found = new Set();
  for (const one of program.getSemanticDiagnostics(file)) {
    const text = ts.flattenDiagnosticMessageText(one.messageText, " ");
    const name = /^Cannot find name '(.+?)'/.exec(text);
    if (name !== null) found.add(name[1]);
  }
  return found;
}
