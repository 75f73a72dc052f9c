// The brass rule of audio frequency, with the pens of mark and space and the notches where
// they should stand.

import { Surface, colour } from "./canvas.js";
import { FROM_HZ, TO_HZ } from "./strip.js";

export class Rule {
  constructor(id = "rule") {
    this.surface = new Surface(id, () => this.draw());
    this.tones = null;
    this.mark = null;
    this.target = null;
    this.shown = null;
  }

  /** Tones as heard, lower first, Hz; which of them is mark: 0, 1 or `null`; target middle. */
  set(tones, mark, target) {
    this.tones = tones;
    this.mark = mark;
    this.target = target;
  }

  x(hz) {
    return ((hz - FROM_HZ) / (TO_HZ - FROM_HZ)) * this.surface.width;
  }

  draw() {
    const { context: c, width, height } = this.surface;
    if (!width) return;
    const brass = c.createLinearGradient(0, 0, 0, height);
    brass.addColorStop(0, colour("brass-light"));
    brass.addColorStop(0.5, colour("brass"));
    brass.addColorStop(1, colour("brass-dark"));
    c.fillStyle = brass;
    c.fillRect(0, 0, width, height);
    this.engrave(c, width);
    this.notches(c, height);
    this.pens(c);
  }

  engrave(c, width) {
    c.strokeStyle = c.fillStyle = colour("engraved");
    c.font = "500 12px Jost, sans-serif";
    c.textAlign = "center";
    c.lineWidth = 1;
    c.beginPath();
    for (let hz = FROM_HZ; hz <= TO_HZ; hz += 50) {
      const long = hz % 500 === 0 ? 20 : hz % 100 === 0 ? 13 : 7;
      if (hz % 100 && width < 500) continue;
      const x = Math.round(this.x(hz)) + 0.5;
      c.moveTo(x, 0);
      c.lineTo(x, long);
    }
    c.stroke();
    for (let hz = 500; hz < TO_HZ; hz += 500) c.fillText(String(hz), this.x(hz), 34);
    c.textAlign = "right";
    c.fillText("Hz", width - 6, 34);
  }

  /** Where the tones should be: two red notches as far apart as the tones are. */
  notches(c, height) {
    if (!this.target) return;
    const apart = this.tones ? Math.abs(this.tones[1] - this.tones[0]) : 170;
    c.fillStyle = colour("rubric");
    for (const hz of [this.target - apart / 2, this.target + apart / 2]) {
      const x = this.x(hz);
      c.beginPath();
      c.moveTo(x - 6, height);
      c.lineTo(x + 6, height);
      c.lineTo(x, height - 13);
      c.fill();
    }
  }

  /** The pens hang down from the strip: mark is solid, space is hollow. */
  pens(c) {
    if (!this.tones) return;
    this.tones.forEach((hz, k) => {
      const x = this.x(hz);
      const solid = this.mark === null || this.mark === k;
      c.beginPath();
      c.moveTo(x - 7, 0);
      c.lineTo(x + 7, 0);
      c.lineTo(x, 17);
      c.closePath();
      c.fillStyle = solid ? colour("pen") : colour("brass-light");
      c.strokeStyle = colour("pen");
      c.lineWidth = 1.5;
      c.fill();
      c.stroke();
      if (this.mark === null) return;
      c.font = "500 12px Jost, sans-serif";
      const [words, left] = [solid ? "mark" : "space", k === 0];
      const wide = c.measureText(words).width;
      const at = left ? x - 10 - wide : x + 10;
      c.fillStyle = colour("brass-light");
      c.fillRect(at - 3, 1, wide + 6, 17);
      c.fillStyle = colour("engraved");
      c.textAlign = "left";
      c.fillText(words, at, 14);
    });
  }
}
