// The sheet: the copy as typed paper.
//
// The desk lays it out, by the page model of the station's machine, and tells rows; each
// signal has a piece of paper of its own. Rows at its end may come again until all of them is
// decided. Here they are only shown: the rows that changed are typed anew, once per painted
// picture.

import { brought } from "./later.js";
import { cells, doubtOf } from "./marks.js";

/** Rows kept on the page; older ones are on the shelf. */
const MOST_ROWS = 4000;

/** Columns of a line that stay in sight to the right of the carriage where the paper is moved. */
const AHEAD = 6;

/** Where a line is longer than the paper in sight, what is typed stays in sight; a character is `each` px wide. */
function keepInSight(paper, column, each) {
  if (paper.scrollWidth <= paper.clientWidth) return;
  const at = column * each;
  const seen = paper.clientWidth - (AHEAD + 4) * each;
  if (at < 0.8 * seen) paper.scrollLeft = 0;
  else if (at - paper.scrollLeft > seen || at < paper.scrollLeft) paper.scrollLeft = at - 0.3 * seen;
}

const SENT = { words: "Sent from here", pitch: "sent" };

/** One signal's paper. */
class Piece {
  constructor(sheet, signal, place) {
    this.sheet = sheet;
    this.signal = signal;
    /** Where the dial stood when it began, in words. */
    this.dial = place;
    /** Rows, and which row the first of them is. */
    this.rows = [];
    this.first = 0;
    this.dirty = Infinity;
    /** How many of the first rows came to stand above and are not typed yet. */
    this.untyped = 0;
    /** What stood in rows that come again, until they are typed. */
    this.gone = [];
    this.spoken = 0;
    this.element = document.createElement("section");
    this.element.className = signal === null ? "piece was-sent" : "piece";
    this.head = document.createElement("p");
    this.head.className = "head";
    this.element.append(this.head);
  }

  /** Its heading, and its pitch, which tells it from others that are on at the same time. */
  name({ words, pitch }) {
    this.head.dataset.pitch = pitch;
    const whole = this.dial && words ? `${words}, ${this.dial}` : words;
    if (this.head.textContent !== whole) this.head.textContent = whole;
  }

  /** Rows from one of them on; what stood behind them is gone. */
  take({ from, settled, rows }) {
    if (!this.rows.length || from < this.first) this.first = from;
    const place = Math.max(from - this.first, 0);
    for (const row of this.rows.splice(place)) if (row.element) this.gone.push(row.element);
    this.rows.push(...rows);
    this.dirty = Math.min(this.dirty, place);
    this.settled = settled;
  }

  /** Rows that stand right above those that are here. */
  above({ from, rows }) {
    const missing = rows.slice(0, Math.max(this.first - from, 0));
    if (!missing.length || from + rows.length < this.first) return;
    this.rows.unshift(...missing);
    this.first -= missing.length;
    this.untyped += missing.length;
    if (this.dirty !== Infinity) this.dirty += missing.length;
  }

  /** A row's element, whose time stands in the margin where it is another than that of the one above. */
  line(row, before) {
    row.element = document.createElement("div");
    row.element.className = row.gap ? "gap" : "line";
    row.element.append(...(row.gap ? [`\u2013 ${row.gap} \u2013`] : this.cells(row)));
    this.time(row, before);
    return row.element;
  }

  /** Types what came to stand above. */
  typeAbove() {
    const count = Math.min(this.untyped, this.dirty);
    this.untyped = 0;
    if (!count) return;
    const typed = this.rows.slice(0, count).map((row, k, all) => this.line(row, all[k - 1]));
    this.head.after(...typed);
    const next = this.rows[count];
    if (next?.element) this.time(next, this.rows[count - 1]);
  }

  /** Types what changed; who looks at a character goes on looking at it. */
  type() {
    const looked = document.activeElement;
    const kept = this.gone.some((element) => element.contains(looked)) && this.sheet.characters.get(looked);
    for (const element of this.gone.splice(0)) element.remove();
    this.typeAbove();
    for (let k = this.dirty; k < this.rows.length; k++) {
      this.element.append(this.line(this.rows[k], this.rows[k - 1]));
    }
    this.dirty = Infinity;
    if (kept) this.place(kept)?.focus({ preventScroll: true });
  }

  /** Where a character that can be looked at stands. */
  place(character) {
    const all = [...this.element.querySelectorAll("[role=button]")];
    return all.find((e) => this.sheet.characters.get(e).start === character.start);
  }

  /** The time stands in the margin once a minute. */
  time(row, before) {
    row.time = row.at === null ? (before?.time ?? "") : this.sheet.clock.time(row.at);
    if (row.time && row.time !== before?.time) row.element.dataset.time = row.time;
    else delete row.element.dataset.time;
  }

  cells(row) {
    const parts = cells(row, this.sheet.characters);
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
    const from = this.signal === null ? "sent: " : "";
    return rows.map((row) => row.gap ?? row.text.trim()).filter(Boolean).map((words) => from + words);
  }

  /** When its last line began, s; -Infinity while nothing of it has a time. */
  get latest() {
    for (let k = this.rows.length - 1; k >= 0; k--) if (this.rows[k].at !== null) return this.rows[k].at;
    return -Infinity;
  }

  /** The column that is typed in next. */
  get column() {
    return this.rows[this.rows.length - 1]?.text?.length ?? 0;
  }

  text(marked) {
    return this.rows.map((row) => this.words(row, marked)).join("\n").trim();
  }

  /** One line; marked, doubtful cells and all that is printed over each other in brackets. */
  words(row, marked) {
    if (row.gap) return `-- ${row.gap} --`;
    if (this.signal === null) return `> ${row.text.trimEnd()}`;
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
    this.advance = 0.6005;
    this.practises = false;
    /** Asks the desk for what stands above a place. */
    this.ask = () => {};
    /** Sheets side by side; come when all signals are copied. */
    this.trays = null;
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
    this.trays?.clear();
    this.element.replaceChildren(this.blank);
  }

  /** What the desk says of the sheet; with a layout it is the latest of it, and what stands above is asked for. */
  take({ layout, pieces, under, above }) {
    if (layout) {
      this.layout = layout;
      this.clear();
    }
    for (const rows of pieces) {
      const piece = this.piece(rows);
      piece.take(rows);
      if (layout) piece.spoken = rows.settled;
      else this.say(piece.toSay());
    }
    this.under = under;
    this.changed = true;
    if (layout) this.wantAbove(above);
  }

  /** Asks for what stands above a place, if there is more. */
  wantAbove(place) {
    this.wanted = place;
    if (place) this.ask(place);
  }

  /** What stands above the place that was asked for; of a sheet that is gone nothing is wanted any more. */
  takeAbove({ below, pieces, above }) {
    if (below.piece !== this.wanted?.piece || below.row !== this.wanted.row) return;
    // From below, so that each finds the one that it stands above.
    for (const rows of pieces.reverse()) {
      const known = this.pieces.get(rows.piece);
      if (known?.rows.length) known.above(rows);
      else {
        const piece = this.piece(rows);
        piece.take(rows);
        piece.spoken = rows.settled;
      }
    }
    this.changed = true;
    this.wantAbove(above);
  }

  piece({ piece: number, before, signal, lane, place }) {
    let piece = this.pieces.get(number);
    if (!piece) {
      piece = new Piece(this, signal, place);
      piece.lane = lane;
      piece.name(signal === null ? SENT : (this.heads.get(signal) ?? { words: "", pitch: "" }));
      this.blank.remove();
      if (!this.trays) this.element.insertBefore(piece.element, this.pieces.get(before)?.element ?? null);
      this.insert(number, piece, before);
      this.changed = true;
    }
    return piece;
  }

  /** Pieces are held in the order in which they stand on paper. */
  insert(number, piece, before) {
    const all = [...this.pieces];
    const at = all.findIndex(([other]) => other === before);
    all.splice(at < 0 ? all.length : at, 0, [number, piece]);
    this.pieces = new Map(all);
  }

  order() {
    return [...this.pieces.values()];
  }

  /** Whether all signals are copied: those that are on at the same time have a sheet each. */
  async setSeveral(several) {
    if (several && !this.trays) {
      // Without the desk there is nothing to lay side by side, and the next settings come with it.
      const module = await brought("trays").catch(() => null);
      if (module) this.trays ??= new module.Trays(this.element, keepInSight);
    }
    this.trays?.setSeveral(several);
    this.changed = true;
  }

  /** The heading of a signal's pieces, and its pitch in words. */
  head(signal, words, pitch) {
    this.heads.set(signal, { words, pitch });
    for (const piece of this.pieces.values()) {
      if (piece.signal === signal) piece.name({ words, pitch });
    }
  }

  /** Practice is marked as what it is, on the page and in all that is taken from it. */
  setPractice(practises) {
    this.practises = practises;
    this.element.classList.toggle("practice", practises);
    document.getElementById("paper-name").textContent = practises ? "Practice copy" : "The copy";
  }

  /** Types what changed; once per picture. */
  paint() {
    if (!this.changed) return false;
    this.changed = false;
    for (const piece of this.pieces.values()) piece.type();
    this.trim();
    const each = parseFloat(getComputedStyle(this.element).fontSize) * this.advance;
    this.trays?.place(this.order(), each);
    if (this.follows) {
      this.element.scrollTop = this.element.scrollHeight;
      keepInSight(this.element, this.under.column, each);
    } else this.newest.hidden = false;
    return true;
  }

  /** How wide a typed character is, as a share of the size of its type. */
  measure() {
    const ruler = document.createElement("span");
    ruler.className = "ruler";
    ruler.textContent = "0".repeat(100);
    this.element.append(ruler);
    this.advance = ruler.getBoundingClientRect().width / 100 / parseFloat(getComputedStyle(ruler).fontSize) || 0.6005;
    ruler.remove();
    document.documentElement.style.setProperty("--advance", this.advance.toFixed(5));
    return this.advance;
  }

  trim() {
    let rows = 0;
    for (const piece of this.pieces.values()) rows += piece.rows.length;
    for (const [number, piece] of this.pieces) {
      if (rows <= MOST_ROWS || this.pieces.size === 1) return;
      rows -= piece.rows.length;
      piece.element.remove();
      this.pieces.delete(number);
    }
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
    const mark = this.practises ? "PRACTICE: an invented band, nothing of it was on the air.\n\n" : "";
    const pieces = this.order().map((p) => [p.head.textContent, p.text(marked)]);
    return mark + pieces
      .filter((p) => p[1])
      .map((p) => `${p[0]}\n\n${p[1]}\n`)
      .join("\n\n");
  }
}
