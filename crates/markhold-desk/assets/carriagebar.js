// The bail under the paper: a brass scale of columns with the pointer of the carriage, and
// the lamps of shift, margin and bell.

import { Surface, colour } from "./canvas.js";

export class CarriageBar {
  constructor() {
    this.surface = new Surface("carriage", () => this.draw());
    this.column = 0;
    this.length = 69;
    /** Width of a typed character, as a share of the size of its type. */
    this.advance = 0.6005;
    this.lamps = {
      letters: document.getElementById("shift-letters"),
      figures: document.getElementById("shift-figures"),
      bell: document.getElementById("bell"),
      margin: document.getElementById("margin"),
    };
  }

  /** How many columns the paper has, and from which on the margin lamp is lit; 0: no lamp. */
  setPaper(length, lamp) {
    this.length = length;
    this.lamps.margin.hidden = !lamp;
    this.draw();
  }

  /** The paper was moved sideways. */
  scrolled(left) {
    if (left === this.left) return;
    this.left = left;
    this.draw();
  }

  /** Where the carriage is, and whether the margin lamp is lit. */
  set({ column, lamp }) {
    this.lamps.margin.classList.toggle("on", lamp);
    if (column === this.column) return;
    this.column = column;
    this.draw();
  }

  /** Which shift is in force, and whether the bell rang. */
  take(character) {
    const shift = { 27: "figures", 31: "letters" }[character.code] ?? character.shift;
    if (shift !== this.shift) {
      this.shift = shift;
      this.lamps.letters.classList.toggle("on", shift === "letters");
      this.lamps.figures.classList.toggle("on", shift === "figures");
    }
    if (character.glyph === "\u0007") this.ring();
  }

  ring() {
    const bell = this.lamps.bell;
    bell.classList.add("on");
    clearTimeout(this.rung);
    this.rung = setTimeout(() => bell.classList.remove("on"), 4000);
  }

  draw() {
    const { context: c, width, height } = this.surface;
    if (!width) return;
    const brass = c.createLinearGradient(0, 0, 0, height);
    brass.addColorStop(0, colour("brass-light"));
    brass.addColorStop(1, colour("brass-dark"));
    c.fillStyle = brass;
    c.fillRect(0, 0, width, height);
    const style = getComputedStyle(document.getElementById("sheet"));
    const units = (length) => length / this.surface.scale;
    const sheet = document.getElementById("sheet");
    const left = units(parseFloat(style.paddingLeft) - sheet.scrollLeft);
    const each = units(parseFloat(style.fontSize) * this.advance);
    const x = (column) => left + column * each;
    c.fillStyle = c.strokeStyle = colour("engraved");
    c.font = "500 11px Jost, sans-serif";
    c.textAlign = "center";
    c.lineWidth = 1;
    c.beginPath();
    for (let k = 0; k <= this.length; k++) {
      const px = Math.round(x(k)) + 0.5;
      if (k % 5 && each < 4) continue;
      c.moveTo(px, 0);
      c.lineTo(px, k % 10 === 0 ? 9 : k % 5 === 0 ? 7 : 4);
      if (k % 10 === 0) c.fillText(String(k), px, 20);
    }
    c.stroke();
    const at = x(Math.min(this.column, this.length)) + each / 2;
    c.fillStyle = colour("rubric");
    c.beginPath();
    c.moveTo(at - 5, height);
    c.lineTo(at + 5, height);
    c.lineTo(at, 8);
    c.fill();
  }
}
