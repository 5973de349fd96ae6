// Text exports of the plain kind, read in the browser. Whatever is not plain is refused in words: the server's reader
// knows many more layouts, and a guess here would be worse than another way.

import { gettext } from "../words.js";

export class CannotRead extends Error {}

/** What the person can put right on the same page; another reader of the files would be no help. */
export class ToPutRight extends CannotRead {}

const SEPARATORS = [";", "\t", ",", "|", "~"];
const MOST_ROWS = 200000;

/** The text of a file in UTF-8, or in UTF-16 with its mark. */
export function decoded(bytes) {
  const [first, second] = bytes;
  const encoding = first === 0xff && second === 0xfe ? "utf-16le" : first === 0xfe && second === 0xff ? "utf-16be" : "utf-8";
  let text;
  try {
    text = new TextDecoder(encoding, { fatal: true }).decode(bytes);
  } catch {
    throw new CannotRead(gettext("The file is in an older code page, or is no text."));
  }
  if (text.includes("\0")) throw new CannotRead(gettext("The file is no text."));
  return text;
}

/** Rows of cells and the first row's place; every row as wide as the header, or the file is refused. */
export function rowsOf(text) {
  let body = text;
  const named = /^sep=(.)\r?\n/i.exec(body);
  if (named) body = body.slice(named[0].length);
  for (const separator of named ? [named[1]] : SEPARATORS) {
    const rows = parted(body, separator);
    const width = rows.length ? rows[0].length : 0;
    if (width < 2 || rows.length < 2) continue;
    if (rows.length > MOST_ROWS) throw new CannotRead(gettext("The file has too many rows."));
    if (rows.some((row) => row.length !== width)) {
      throw new CannotRead(gettext("Its rows are not all alike: there is something above or between the readings."));
    }
    if (separator === "," && width > 2 && isData(rows[0])) {
      throw new CannotRead(gettext("It has no header, and commas may stand inside its numbers."));
    }
    return rows;
  }
  throw new CannotRead(gettext("No table was found in it."));
}

function isData(row) {
  return row.some((cell) => /^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}/.test(cell.trim()));
}

function parted(text, separator) {
  const rows = [];
  let row = [], cell = "", quoted = false;
  const endRow = () => {
    row.push(cell);
    if (row.some((one) => one.trim() !== "")) rows.push(row);
    row = [];
    cell = "";
  };
  for (let i = 0; i < text.length; i += 1) {
    const letter = text[i];
    if (quoted) {
      if (letter !== '"') cell += letter;
      else if (text[i + 1] === '"') { cell += '"'; i += 1; } else quoted = false;
    } else if (letter === '"' && cell.trim() === "") { quoted = true; cell = ""; }
    else if (letter === separator) { row.push(cell); cell = ""; }
    else if (letter === "\n" || letter === "\r") { if (letter === "\r" && text[i + 1] === "\n") i += 1; endRow(); }
    else cell += letter;
  }
  if (quoted) throw new CannotRead(gettext("A quotation mark is not closed."));
  if (cell !== "" || row.length) endRow();
  return rows;
}
