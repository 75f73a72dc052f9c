// One copy out of several evenings: which copies there are, what they say together, who bears
// what, where they surely differ, and what is still missing.

import { Clock } from "./clock.js";
import { doubtOf } from "./marks.js";

function made(kind, name, ...inside) {
  const element = document.createElement(kind);
  if (name) element.className = name;
  element.append(...inside);
  return element;
}

function percent(p) {
  return `${Math.round(100 * p)}\u00a0%`;
}

function glyph(c) {
  if (c === null) return "a shift";
  return { " ": "a space", "\r": "carriage return", "\n": "line feed", "\u0007": "the bell", "\u0005": "who are you" }[c] ?? c;
}

/** `A, B and D`. */
function listed(names) {
  return names.length > 1 ? `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}` : names.join("");
}

export class Joint {
  /** `listen(copy, at)` plays the sound of a copy from a time of its evening; `open(evening)` opens it. */
  constructor(told, { listen, open }) {
    this.told = told;
    this.listen = listen;
    this.open = open;
    this.clocks = told.copies.map((copy) => {
      const clock = new Clock();
      clock.begin([{ at_s: 0, utc: copy.evening_begin }]);
      return clock;
    });
    /** Lines by the row that shows them. */
    this.lines = new Map();
  }

  name(copy) {
    return this.told.copies[copy].name;
  }

  day(copy) {
    return this.clocks[copy].day(0).replace(/ \d+$/, "");
  }

  /** `A (21 March) and C (4 April)`. */
  dated(copies) {
    return listed(copies.map((k) => `${this.name(k)} (${this.day(k)})`));
  }

  title() {
    const evenings = [...new Set(this.told.copies.map((c) => c.evening))];
    return `Evenings ${listed(evenings.map(String))}, joined`;
  }

  about() {
    const alone = this.told.alone ? `${this.told.alone}: nothing that another copy repeats.` : "";
    const none = this.told.joints.length ? "" : "These evenings have nothing in common that could be joined. ";
    return `${none}${alone}`;
  }

  /** The copies with the letters that stand in the margin. */
  copies() {
    return this.told.copies.map((copy, k) => {
      const go = made("button", "", `evening ${copy.evening}`);
      go.type = "button";
      go.addEventListener("click", () => this.open(copy.evening));
      const from = [`${this.clocks[k].day(0)}, ${copy.begin.slice(11, 16)} UTC`, copy.station].filter(Boolean).join(" \u2013 ");
      const sure = `${copy.characters} characters, ${percent(copy.doubtful / Math.max(copy.characters, 1))} doubtful`;
      return made("li", "", made("b", "", copy.name), " ", go, ` signal ${copy.signal}, ${from}; `, made("span", "less", sure));
    });
  }

  /** The copies whose sound can be heard, as `[value, words]`. */
  heard() {
    const some = this.told.copies.map((copy, k) => [String(k), `${copy.name}, ${this.day(k)}`]);
    return some.filter(([k]) => this.told.copies[Number(k)].sound);
  }

  /** What stands on paper; characters that can be looked at are noted. */
  typed(characters, copy) {
    this.lines.clear();
    return this.told.joints.flatMap((joint) => {
      const sure = `${joint.characters} characters, ${percent(joint.doubtful / Math.max(joint.characters, 1))} doubtful`;
      const rows = joint.lines.map((line) => this.row(joint, line, characters, copy));
      return [made("p", "head", `${joint.names}: ${sure}`), ...rows];
    });
  }

  row(joint, line, characters, copy) {
    const from = made("button", "from", ...this.told.copies.map((c, k) => (line.bearers.includes(k) ? c.name : "\u2013")));
    from.type = "button";
    from.setAttribute("aria-label", `Listen to this line; ${line.bearers.length ? `most of it is borne by ${listed(line.bearers.map((k) => this.name(k)))}` : "no copy bears most of it"}`);
    from.addEventListener("click", () => this.play(joint, line, copy()));
    const row = made("div", "line", from, ...line.pieces.map((piece) => this.piece(joint, piece, characters)));
    this.lines.set(row, { joint, line });
    return row;
  }

  /** Plays a line by the copy that was chosen, or by the best one that has it. */
  play(joint, line, chosen) {
    const has = (k) => line.at[k] !== null && this.told.copies[k].sound;
    const copy = chosen === "" ? joint.copies.find(has) : Number(chosen);
    this.listen(copy ?? null, copy === undefined || !has(copy) ? null : line.at[copy]);
  }

  piece(joint, piece, characters) {
    const span = made("span", "");
    if (piece.is === "sure") {
      span.textContent = piece.text;
      const alone = piece.bearers.length === 1 ? " alone" : "";
      characters.set(span, { start: piece.place, quiet: true, words: `Borne by ${this.dated(piece.bearers)}${alone}.` });
      return span;
    }
    span.tabIndex = -1;
    span.setAttribute("role", "button");
    if (piece.is === "variant") {
      const wordings = joint.variants[piece.variant];
      span.className = "variant";
      wordings.forEach((w, k) => span.append(...(k ? [made("span", "or", "|")] : []), w.text || "\u2013"));
      characters.set(span, { start: `variant ${piece.variant}`, words: `The copies differ: ${this.wordings(wordings)}.` });
      return span;
    }
    span.textContent = piece.glyph;
    span.className = `d d${Math.max(1, doubtOf(piece))}`;
    span.dataset.place = piece.place;
    characters.set(span, { start: piece.place, words: this.why(piece) });
    return span;
  }

  wordings(wordings) {
    return wordings.map((w) => `${w.text || "nothing"} in ${this.dated(w.copies)}`).join("; ");
  }

  /** What all say together of a character, and what each says. */
  why({ glyph: c, probability, others, says }) {
    const else_ = others.map(([o, p]) => `${glyph(o)} ${percent(p)}`).join(", ");
    const each = says.map((s) => `${this.name(s.copy)} reads ${glyph(s.glyph)} with ${percent(s.probability)}`);
    return `Together ${glyph(c)} with ${percent(probability)}${else_ ? `, or ${else_}` : ""}. ${each.join(", ")}.`;
  }

  /** Where copies surely differ, for the list under the paper. */
  differs() {
    return this.told.joints.flatMap((joint) => joint.variants.map((wordings) => made("li", "", this.wordings(wordings))));
  }

  /** What is still missing, for the list under the paper; each goes to its place. */
  missing(go) {
    return this.told.joints.flatMap((joint, at) => {
      const items = joint.missing.map((m) => {
        const place = made("button", "", m.line === null ? "at the end" : `line ${m.line + 1}`);
        place.type = "button";
        place.addEventListener("click", () => go(this.rowOf(at, m.line), m.place));
        const whose = this.told.joints.length > 1 ? `${joint.names}, ` : "";
        return made("li", "", whose, place, ` ${Joint.untold(m)}`);
      });
      const { single } = joint;
      if (single) items.push(made("li", "", `${single} single ${single === 1 ? "character is" : "characters are"} doubtful`));
      return items;
    });
  }

  static untold(m) {
    if (m.why === "doubtful") return `${m.doubtful} characters are doubtful`;
    if (m.why === "silent") return `nothing was read for ${Math.round(m.silent_s)} s before this: a pause, or lost in each`;
    return "anything may be missing before this: no copy goes across";
  }

  rowOf(joint, line) {
    const rows = [...this.lines].filter(([, l]) => l.joint === this.told.joints[joint]);
    return rows[line ?? rows.length - 1]?.[0];
  }

  /** The longest line, characters. */
  longest() {
    const width = (joint, piece) => (piece.is === "sure" ? piece.text.length : piece.is === "doubtful" ? 1 : joint.variants[piece.variant].reduce((sum, w) => sum + w.text.length + 1, 1));
    const lengths = this.told.joints.flatMap((joint) => joint.lines.map((line) => line.pieces.reduce((sum, p) => sum + width(joint, p), 0)));
    return Math.max(0, ...lengths);
  }

  /** The row whose sound is being heard. */
  at(copy, at) {
    return [...this.lines].findLast(([, { line }]) => line.at[copy] !== null && line.at[copy] <= at)?.[0];
  }

  /** As text; marked, doubtful characters between brackets. Variants stand between < and >. */
  text(marked) {
    const piece = (joint) => (p) => {
      if (p.is === "sure") return p.text;
      if (p.is === "variant") return `<${joint.variants[p.variant].map((w) => w.text).join("|")}>`;
      return marked ? `[${p.glyph}]` : p.glyph;
    };
    const who = (line) => this.told.copies.map((c, k) => (line.bearers.includes(k) ? c.name : "-".repeat(c.name.length))).join("");
    const copies = this.told.copies.map((c, k) => `${c.name}: evening ${c.evening}, signal ${c.signal}, ${this.clocks[k].day(0)}, ${c.begin.slice(11, 16)} UTC`);
    const joints = this.told.joints.map((joint) => {
      const lines = joint.lines.map((line) => `${who(line)}  ${line.pieces.map(piece(joint)).join("").trimEnd()}`);
      return [`== ${joint.names} ==`, ...lines, ...joint.variants.map((w) => this.wordings(w))].join("\n");
    });
    return `${[...copies, "", ...joints].join("\n")}\n`;
  }
}
