// The recorder strip: what the receiver lets through, in ink on paper that moves up from the
// brass rule. Dark is strong. The rule below it carries the pens: where the two tones are,
// and the notches where they should be.

import { Surface, colour } from "./canvas.js";

/** The part of the band that is shown, Hz. */
export const FROM_HZ = 200;
export const TO_HZ = 3000;
/** Rows remembered: each is one pixel of the ring, and a good second is 25 to 40 of them. */
const RING = 640;
/** Full ink is this far over the noise, dB; less than `FAINT` over it leaves none. */
const FULL = 46;
const FAINT = 7;

export class Strip {
  constructor(clock, id = "strip") {
    this.clock = clock;
    this.surface = new Surface(id, () => this.draw());
    this.ring = document.createElement("canvas");
    this.clear();
  }

  clear() {
    this.ring.width = 256;
    this.ring.height = RING;
    this.ink = this.ring.getContext("2d", { willReadFrequently: false });
    this.head = 0;
    this.count = 0;
    this.floor = null;
    this.last = 0;
    this.rate = 30;
    this.line = null;
  }

  add(rows) {
    for (const row of rows) {
      this.take(row);
    }
  }

  take(row) {
    const bins = row.db.length;
    if (this.ring.width !== bins) this.ring.width = bins;
    if (!this.line || this.line.width !== bins) this.line = this.ink.createImageData(bins, 1);
    this.level(row.db);
    for (let k = 0; k < bins; k++) {
      const over = row.db[k] - this.floor - FAINT;
      const ink = Math.min(Math.max(over / (FULL - FAINT), 0), 1);
      this.line.data[4 * k + 3] = 255 * Math.pow(ink, 1.15);
    }
    this.ink.putImageData(this.line, 0, this.head);
    this.head = (this.head + 1) % RING;
    this.count = Math.min(this.count + 1, RING);
    const step = row.at - this.last;
    if (step > 0 && step < 0.5) this.rate += (1 / step - this.rate) * 0.02;
    this.last = row.at;
  }

  /** The noise: the middle of the bins that let anything through, followed slowly. */
  level(db) {
    const shown = [];
    for (let k = 20; k < 180; k += 2) if (db[k] > -120) shown.push(db[k]);
    if (!shown.length) return void (this.floor = this.floor ?? -90);
    shown.sort((a, b) => a - b);
    const middle = shown[shown.length >> 1];
    this.floor = this.floor === null ? middle : this.floor + (middle - this.floor) * 0.04;
  }

  x(hz) {
    return ((hz - FROM_HZ) / (TO_HZ - FROM_HZ)) * this.surface.width;
  }

  /** `since` is the time since the newest row, s: the paper moves on between rows. */
  draw(since = 0) {
    const { context: c, width, height } = this.surface;
    if (!width) return;
    c.clearRect(0, 0, width, height);
    const perHz = this.ring.width / 4000;
    const [left, span] = [FROM_HZ * perHz, (TO_HZ - FROM_HZ) * perHz];
    // A row is a pixel; the strip shows as many as it is high.
    const shift = Math.min(since * this.rate, 3);
    const show = Math.min(this.count, Math.ceil(height) + 2);
    const older = Math.max(show - this.head, 0);
    const newer = show - older;
    const bottom = height - shift;
    c.imageSmoothingEnabled = true;
    if (newer) c.drawImage(this.ring, left, this.head - newer, span, newer, 0, bottom - newer, width, newer);
    if (older) c.drawImage(this.ring, left, RING - older, span, older, 0, bottom - show, width, older);
    c.globalCompositeOperation = "source-in";
    c.fillStyle = colour("strip-ink");
    c.fillRect(0, 0, width, height);
    c.globalCompositeOperation = "destination-over";
    this.grid(c, width, height, bottom);
    c.globalCompositeOperation = "source-over";
  }

  grid(c, width, height, bottom) {
    c.strokeStyle = colour("strip-grid");
    c.lineWidth = 1;
    c.beginPath();
    for (let hz = 500; hz < TO_HZ; hz += 500) {
      const x = Math.round(this.x(hz)) + 0.5;
      c.moveTo(x, 0);
      c.lineTo(x, height);
    }
    // A line every five seconds of live time moves up with the paper.
    const first = this.last - (this.last % 5);
    for (let at = first; at > this.last - height / this.rate; at -= 5) {
      const y = Math.round(bottom - (this.last - at) * this.rate) + 0.5;
      c.moveTo(0, y);
      c.lineTo(width, y);
    }
    c.stroke();
    c.fillStyle = colour("strip-paper");
    c.fillRect(0, 0, width, height);
  }
}
