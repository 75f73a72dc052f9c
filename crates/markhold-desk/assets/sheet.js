// The sheet: the copy as typed paper.
//
// Each signal has a piece of paper of its own. Its characters are decided ones, in order,
// followed by first readings that wait to be decided; what is decided takes their place. Only
// the lines from the first change on are typed anew, once per painted picture.

import { Carriage, doubtOf, printed } from "./carriage.js";
import { byLanguage } from "./slip.js";

/** A decided character begins within half an element of its first reading: 11 ms at most. */
const SAME_S = 0.0125;
/** Lines kept on the page; older ones are in the archive. */
const MOST_LINES = 4000;

/** One signal's paper. */
class Piece {
  constructor(sheet, signal) {
    this.sheet = sheet;
    this.signal = signal;
    this.decided = [];
    this.early = [];
    /** Lines typed: the element, the first character, the carriage before it. */
    this.lines = [];
    this.dirty = 0;
    this.element = document.createElement("section");
    this.element.className = "piece";
    this.head = document.createElement("p");
    this.head.className = "head";
    this.element.append(this.head);
  }

  all() {
    return this.early.length ? this.decided.concat(this.early) : this.decided;
  }

  addEarly(character) {
    this.early.push(character);
    this.touch(this.decided.length + this.early.length - 1);
  }

  add(character) {
    const place = this.decided.length;
    let replaced = 0;
    while (replaced < this.early.length && this.early[replaced].start <= character.start + SAME_S) replaced++;
    this.early.splice(0, replaced);
    this.decided.push(character);
    this.touch(place);
  }

  touch(place) {
    this.dirty = Math.min(this.dirty, place);
  }

  /** Types what changed. */
  type(length) {
    const all = this.all();
    if (this.dirty > all.length) return;
    while (this.lines.length && this.lines[this.lines.length - 1].from >= this.dirty && this.lines.length > 1) {
      this.lines.pop().element.remove();
    }
    const carriage = new Carriage(length);
    let line = this.lines[this.lines.length - 1];
    if (line) carriage.state = { ...line.before };
    else line = this.newLine(0, carriage.state);
    const typed = [line];
    line.characters = [];
    for (let k = line.from; k < all.length; k++) {
      const before = { ...carriage.state };
      if (carriage.take(all[k]) && k > line.from) {
        line = this.newLine(k, before);
        typed.push(line);
      }
      line.characters.push(all[k]);
    }
    typed.forEach((l) => this.fill(l));
    this.column = carriage.state.returned ? 0 : carriage.state.column;
    this.dirty = Infinity;
  }

  newLine(from, before) {
    const element = document.createElement("div");
    element.className = "line";
    this.element.append(element);
    const line = { element, from, before: { ...before }, characters: [] };
    this.lines.push(line);
    return line;
  }

  fill(line) {
    const parts = [];
    let plain = "";
    const flush = () => {
      if (plain) parts.push(document.createTextNode(plain));
      plain = "";
    };
    const earlyFrom = this.early.length ? this.early[0].start : Infinity;
    for (const c of line.characters) {
      const bell = c.glyph === "\u0007";
      if (!printed(c.glyph) && !bell) continue;
      const doubt = doubtOf(c);
      const early = c.start >= earlyFrom;
      if (!bell && !early && ((doubt === 0 && !byLanguage(c)) || c.glyph === " ")) {
        plain += c.glyph;
        continue;
      }
      flush();
      parts.push(this.sheet.mark(c, { doubt, early, bell }));
    }
    flush();
    line.element.replaceChildren(...parts);
    const first = line.characters[0];
    const time = first ? this.sheet.clock.time(first.start) : "";
    // The time stands in the margin once a minute.
    const before = line.element.previousElementSibling;
    line.time = time;
    const told = before?.classList.contains("line") ? before.dataset.last : "";
    line.element.dataset.last = time;
    if (time && time !== told) line.element.dataset.time = time;
    else delete line.element.dataset.time;
  }

  text(marked = false) {
    const carriage = new Carriage(this.sheet.length);
    let text = "";
    for (const c of this.all()) {
      if (carriage.take(c)) text += "\n";
      if (!printed(c.glyph)) continue;
      text += marked && doubtOf(c) > 1 && c.glyph !== " " ? `[${c.glyph}]` : c.glyph;
    }
    return text.replace(/[ ]+$/gm, "").trim();
  }
}

export class Sheet {
  constructor(clock, slip) {
    this.clock = clock;
    this.slip = slip;
    this.element = document.getElementById("sheet");
    this.newest = document.getElementById("newest");
    this.spoken = document.getElementById("spoken");
    this.length = 69;
    this.characters = new WeakMap();
    this.clear();
    this.element.addEventListener("scroll", () => this.scrolled());
    this.newest.addEventListener("click", () => this.follow());
    slip.attend(this);
  }

  clear() {
    this.pieces = new Map();
    this.current = null;
    this.follows = true;
    this.saidUpTo = null;
    this.blank = document.createElement("p");
    this.blank.className = "blank";
    this.blank.textContent = "The paper is in. What is heard is typed here.";
    this.element.replaceChildren(this.blank);
  }

  /** Everything so far: characters in the order they were decided. */
  begin(characters) {
    this.clear();
    characters.forEach((c) => this.piece(c.signal).add(c));
    this.saidUpTo = characters.length ? characters[characters.length - 1].start : null;
  }

  piece(signal) {
    let piece = this.pieces.get(signal);
    if (!piece) {
      piece = new Piece(this, signal);
      this.blank.remove();
      this.pieces.set(signal, piece);
      this.element.append(piece.element);
    }
    this.current = piece;
    return piece;
  }

  /** The heading of a piece. */
  head(signal, words) {
    const piece = this.pieces.get(signal);
    if (piece && piece.head.textContent !== words) piece.head.textContent = words;
  }

  take(type, character) {
    const piece = this.piece(character.signal);
    if (type === "early") piece.addEarly(character);
    else {
      piece.add(character);
      this.say(character);
    }
  }

  /** Types what changed; once per picture. */
  paint() {
    let changed = false;
    for (const piece of this.pieces.values()) {
      if (piece.dirty === Infinity) continue;
      piece.type(this.length);
      changed = true;
    }
    if (changed) {
      this.trim();
      if (this.follows) this.element.scrollTop = this.element.scrollHeight;
      else this.newest.hidden = false;
    }
    return changed;
  }

  trim() {
    let lines = 0;
    for (const piece of this.pieces.values()) lines += piece.lines.length;
    for (const [signal, piece] of this.pieces) {
      if (lines <= MOST_LINES || piece === this.current) return;
      lines -= piece.lines.length;
      piece.element.remove();
      this.pieces.delete(signal);
    }
  }

  mark(character, { doubt, early, bell }) {
    const span = document.createElement("span");
    span.textContent = bell ? "" : character.glyph;
    if (bell || early) {
      span.className = bell ? "bell" : "early";
      return span;
    }
    span.className = `d d${doubt}${byLanguage(character) ? " by-language" : ""}`;
    span.tabIndex = -1;
    span.setAttribute("role", "button");
    this.characters.set(span, character);
    return span;
  }

  setLength(length) {
    this.length = length;
    for (const piece of this.pieces.values()) {
      piece.lines.forEach((l) => l.element.remove());
      piece.lines = [];
      piece.dirty = 0;
    }
    this.paint();
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
  say(character) {
    this.line = this.line ?? "";
    if (printed(character.glyph)) this.line += character.glyph;
    const ends = character.glyph === "\n" || this.line.length > 100;
    if (!ends) return;
    const words = this.line.trim();
    this.line = "";
    if (!words) return;
    const p = document.createElement("p");
    p.textContent = words;
    this.spoken.append(p);
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
