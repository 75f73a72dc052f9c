// Doubt on paper: characters that are more than sure ones, in a row as the desk tells it.

import { byLanguage } from "./slip.js";

/** How doubtful a character is: 0 not at all, to 3. */
export function doubtOf(character) {
  const p = character?.probability ?? 1;
  if (p >= 0.95) return 0;
  if (p >= 0.85) return 1;
  return p >= 0.6 ? 2 : 3;
}

/** A cell that is more than one sure character; everything struck in it shows, the last on top. */
function marked(mark, characters) {
  const span = document.createElement("span");
  const { glyph, early, character } = mark.struck[mark.struck.length - 1];
  span.textContent = glyph;
  for (const under of mark.struck.slice(0, -1)) {
    const below = document.createElement("span");
    below.className = "below";
    below.textContent = under.glyph;
    span.append(below);
  }
  const over = mark.struck.length > 1 ? "over " : "";
  if (early || !character) {
    span.className = over + (early ? "early" : "");
    return span;
  }
  const doubt = doubtOf(character);
  span.className = `${over}${doubt ? `d d${doubt}` : "changed"}${byLanguage(character) ? " by-language" : ""}`;
  span.tabIndex = -1;
  span.setAttribute("role", "button");
  characters.set(span, character);
  return span;
}

/** What stands in a row: text, and a span for each marked cell, whose character is noted. */
export function cells(row, characters) {
  const parts = [];
  let done = 0;
  for (const mark of row.marks ?? []) {
    if (mark.column > done) parts.push(document.createTextNode(row.text.slice(done, mark.column)));
    parts.push(marked(mark, characters));
    done = mark.column + 1;
  }
  if (done < row.text.length) parts.push(document.createTextNode(row.text.slice(done)));
  return parts;
}
