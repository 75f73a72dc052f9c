// The level as a column of mercury in a glass tube, with words under it.

import { Surface, colour } from "./canvas.js";

const LOW = -60;
const WORDS = {
  good: "The level is good",
  clipping: "Too loud: turn the level down",
  "too-little": "Too little: turn the level up",
  silent: "Silence: is the cable in?",
};

export class Level {
  /** `words` is where the level is told too, if anywhere. */
  constructor(id = "level", words = document.getElementById("level-words")) {
    this.surface = new Surface(id, () => this.draw());
    this.words = words;
    this.rms = this.peak = LOW;
    this.state = null;
    this.blanked = false;
  }

  /** While something else is wrong the level is not called good: it may be an old one. */
  blank(blanked) {
    this.blanked = blanked;
    if (blanked) this.rms = this.peak = LOW;
    this.say();
    this.draw();
  }

  say() {
    if (!this.words) return;
    const good = this.state === "good" || this.state === null;
    const words = good && this.blanked ? "Level" : (WORDS[this.state] ?? "Level");
    this.words.textContent = words;
    this.words.dataset.state = this.state ?? "";
    this.surface.canvas.setAttribute("aria-label", `Level of the sound: ${words}`);
  }

  take(level) {
    const clamp = (db) => (Number.isFinite(db) ? Math.max(db, LOW) : LOW);
    this.rms += (clamp(level.rms) - this.rms) * 0.3;
    this.peak = Math.max(clamp(level.peak), this.peak - 0.4);
    if (level.state !== this.state) {
      this.state = level.state;
      this.say();
    }
  }

  draw() {
    const { context: c, width, height } = this.surface;
    if (!width) return;
    const [top, bottom, x] = [14, height - 20, Math.round(width / 2) - 14];
    const y = (db) => top + ((0 - db) / (0 - LOW)) * (bottom - top);
    c.clearRect(0, 0, width, height);
    c.fillStyle = colour("tube");
    c.strokeStyle = colour("engraved-on-bench");
    c.lineWidth = 1;
    c.beginPath();
    c.roundRect(x - 6, top - 8, 12, bottom - top + 8, 6);
    c.fill();
    c.stroke();
    c.fillStyle = this.state === "good" ? colour("mercury") : colour("rubric");
    c.beginPath();
    c.arc(x, bottom + 6, 11, 0, 7);
    c.fill();
    c.fillRect(x - 3.5, y(this.rms), 7, bottom + 2 - y(this.rms));
    this.scale(c, x, y);
    c.fillRect(x - 9, y(this.peak) - 1, 18, 2);
  }

  scale(c, x, y) {
    c.fillStyle = c.strokeStyle = colour("engraved-on-bench");
    c.font = "400 12px Jost, sans-serif";
    c.textAlign = "left";
    c.beginPath();
    for (let db = LOW; db <= 0; db += 10) {
      c.moveTo(x + 11, Math.round(y(db)) + 0.5);
      c.lineTo(x + (db % 20 ? 16 : 20), Math.round(y(db)) + 0.5);
      if (db % 20 === 0) c.fillText(String(db).replace("-", "\u2212"), x + 24, y(db) + 4);
    }
    c.stroke();
  }
}
