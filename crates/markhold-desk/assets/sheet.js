// The sheet: the copy as typed paper.
//
// The desk lays it out, by the page model of the station's machine, and tells rows; each
// signal has a piece of paper of its own. Rows at its end may come again until all of them is
// decided. Here they are only shown: the rows that changed are typed anew, once per painted
// picture.

import { byLanguage } from "./slip.js";

/** Rows kept on the page; older ones are on the shelf. */
const MOST_ROWS = 4000;

/** How doubtful a character is: 0 not at all, to 3. */
function doubtOf(character) {
  const p = character?.probability ?? 1;
  if (p >= 0.95) return 0;
  if (p >= 0.85) return 1;
  return p >= 0.6 ? 2 : 3;
}

/** What is read of one marked cell: its last strike lies on top. */
function top(mark) {
  return mark.struck[mark.struck.length - 1];
}

/** One signal's paper. */
class Piece {
  constructor(sheet, head) {
    this.sheet = sheet;
    /** Rows, and which row the first of them is. */
    this.rows = [];
    this.first = 0;
    this.dirty = Infinity;
    this.spoken = 0;
    this.element = document.createElement("section");
    this.element.className = "piece";
    this.head = document.createElement("p");
    this.head.className = "head";
    this.head.textContent = head;
    this.element.append(this.head);
  }

  /** Rows from one of them on; what stood behind them is gone. */
  take({ from, settled, rows }) {
    if (!this.rows.length) this.first = from;
    const place = Math.max(from - this.first, 0);
    for (const row of this.rows.splice(place)) row.element?.remove();
    this.rows.push(...rows);
    this.dirty = Math.min(this.dirty, place);
    this.settled = settled;
  }

  /** Types what changed. */
  type() {
    for (let k = this.dirty; k < this.rows.length; k++) {
      const row = this.rows[k];
      row.element = document.createElement("div");
      row.element.className = "line";
      row.element.append(...this.cells(row));
      this.time(row, this.rows[k - 1]);
      this.element.append(row.element);
    }
    this.dirty = Infinity;
  }

  /** The time stands in the margin once a minute. */
  time(row, before) {
    row.time = row.at === null ? (before?.time ?? "") : this.sheet.clock.time(row.at);
    if (row.time && row.time !== before?.time) row.element.dataset.time = row.time;
  }

  cells(row) {
    const parts = [];
    let done = 0;
    for (const mark of row.marks ?? []) {
      if (mark.column > done) parts.push(document.createTextNode(row.text.slice(done, mark.column)));
      parts.push(this.sheet.mark(mark));
      done = mark.column + 1;
    }
    if (done < row.text.length) parts.push(document.createTextNode(row.text.slice(done)));
    for (let k = 0; k < (row.bells ?? 0); k++) {
      const bell = document.createElement("span");
      bell.className = "bell";
      parts.push(bell);
    }
    return parts;
  }

  /** Lines that are complete and were not said yet. */
  toSay() {
    const rows = this.rows.slice(Math.max(this.spoken - this.first, 0), this.settled - this.first);
    this.spoken = this.settled;
    return rows.map((row) => row.text.trim()).filter(Boolean);
  }

  text(marked) {
    return this.rows.map((row) => this.line(row, marked)).join("\n").trim();
  }

  /** One line; marked, doubtful cells and all that is printed over each other in brackets. */
  line(row, marked) {
    const cells = [...row.text];
    for (const { column, struck } of marked ? (row.marks ?? []) : []) {
      if (struck.length > 1 || doubtOf(struck[0].character) > 1) cells[column] = `[${struck.map((s) => s.glyph).join("")}]`;
    }
    return cells.join("").trimEnd();
  }
}

export class Sheet {
  constructor(clock, slip) {
    this.clock = clock;
    this.slip = slip;
    this.element = document.getElementById("sheet");
    this.newest = document.getElementById("newest");
    this.spoken = document.getElementById("spoken");
    this.layout = { columns: 69, margin_lamp: 0, overprint: false, machine: null };
    this.under = { column: 0, lamp: false };
    this.heads = new Map();
    this.characters = new WeakMap();
    this.clear();
    this.element.addEventListener("scroll", () => this.scrolled());
    this.newest.addEventListener("click", () => this.follow());
    slip.attend(this);
  }

  clear() {
    this.pieces = new Map();
    this.follows = true;
    this.changed = true;
    this.blank = document.createElement("p");
    this.blank.className = "blank";
    this.blank.textContent = "The paper is in. What is heard is typed here.";
    this.element.replaceChildren(this.blank);
  }

  /** What the desk says of the sheet; with a layout it is all of it. */
  take({ layout, pieces, under }) {
    if (layout) {
      this.layout = layout;
      this.clear();
    }
    for (const rows of pieces) {
      const piece = this.piece(rows.signal);
      piece.take(rows);
      if (layout) piece.spoken = rows.settled;
      else this.say(piece.toSay());
    }
    this.under = under;
    this.changed = true;
  }

  piece(signal) {
    let piece = this.pieces.get(signal);
    if (!piece) {
      piece = new Piece(this, this.heads.get(signal) ?? "");
      this.blank.remove();
      this.pieces.set(signal, piece);
      this.element.append(piece.element);
    }
    return piece;
  }

  /** The heading of a piece. */
  head(signal, words) {
    this.heads.set(signal, words);
    const piece = this.pieces.get(signal);
    if (piece && piece.head.textContent !== words) piece.head.textContent = words;
  }

  /** Types what changed; once per picture. */
  paint() {
    if (!this.changed) return false;
    this.changed = false;
    for (const piece of this.pieces.values()) piece.type();
    this.trim();
    if (this.follows) this.element.scrollTop = this.element.scrollHeight;
    else this.newest.hidden = false;
    return true;
  }

  trim() {
    let rows = 0;
    for (const piece of this.pieces.values()) rows += piece.rows.length;
    for (const [signal, piece] of this.pieces) {
      if (rows <= MOST_ROWS || this.pieces.size === 1) return;
      rows -= piece.rows.length;
      piece.element.remove();
      this.pieces.delete(signal);
    }
  }

  /** A cell that is more than one sure character; everything struck in it shows. */
  mark(mark) {
    const span = document.createElement("span");
    const { glyph, early, character } = top(mark);
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
    span.className = `${over}d d${doubtOf(character)}${byLanguage(character) ? " by-language" : ""}`;
    span.tabIndex = -1;
    span.setAttribute("role", "button");
    this.characters.set(span, character);
    return span;
  }

  scrolled() {
    const e = this.element;
    this.follows = e.scrollHeight - e.scrollTop - e.clientHeight < 24;
    if (this.follows) this.newest.hidden = true;
  }

  follow() {
    this.follows = true;
    this.element.scrollTop = this.element.scrollHeight;
    this.newest.hidden = true;
  }

  /** Lines that are complete are put where screen readers hear of them. */
  say(lines) {
    for (const words of lines) {
      const p = document.createElement("p");
      p.textContent = words;
      this.spoken.append(p);
    }
    while (this.spoken.childElementCount > 20) this.spoken.firstElementChild.remove();
  }

  text(marked) {
    const pieces = [...this.pieces.values()].map((p) => [p.head.textContent, p.text(marked)]);
    return pieces
      .filter((p) => p[1])
      .map((p) => `${p[0]}\n\n${p[1]}\n`)
      .join("\n\n");
  }
}
