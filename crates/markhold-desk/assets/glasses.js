// The round glasses: the two tones at right angles, and the eye of the elements. Ink
// on paper; what was drawn pales.

import { Surface, colour } from "./canvas.js";

class Glass {
  constructor(id, fade) {
    this.surface = new Surface(id, () => this.wipe());
    this.fade = fade;
    this.wipe();
  }

  wipe() {
    const { context: c, width, height } = this.surface;
    c.globalAlpha = 1;
    c.fillStyle = colour("glass");
    c.fillRect(0, 0, width, height);
    this.graticule(c, width, height);
  }

  /** Lets what was drawn fade by one picture. */
  dim() {
    const { context: c, width, height } = this.surface;
    c.globalAlpha = this.fade;
    c.fillStyle = colour("glass");
    c.fillRect(0, 0, width, height);
    c.globalAlpha = 1;
    this.graticule(c, width, height);
  }

  graticule() {}
}

/** Mark across, space upright: two slim ellipses when both tones come through. */
export class Figure extends Glass {
  constructor(id = "figure") {
    super(id, 0.16);
    this.last = null;
  }

  graticule(c, width, height) {
    c.strokeStyle = colour("graticule");
    c.lineWidth = 1;
    c.beginPath();
    c.moveTo(width * 0.08, height / 2);
    c.lineTo(width * 0.92, height / 2);
    c.moveTo(width / 2, height * 0.08);
    c.lineTo(width / 2, height * 0.92);
    c.stroke();
  }

  draw(points) {
    if (!points.length) return;
    this.dim();
    const { context: c, width, height } = this.surface;
    const reach = (Math.min(width, height) / 2) * 0.84;
    const place = (k) => [width / 2 + (points[k] / 127) * reach, height / 2 - (points[k + 1] / 127) * reach];
    c.strokeStyle = colour("trace");
    c.lineWidth = 1.3;
    c.lineJoin = "round";
    c.globalAlpha = 0.9;
    c.beginPath();
    c.moveTo(...(this.last ?? place(0)));
    for (let k = 0; k + 1 < points.length; k += 2) c.lineTo(...place(k));
    c.stroke();
    c.globalAlpha = 1;
    this.last = place(points.length - 2);
  }
}

/** Every element laid over the others: a wide open eye is read with ease. */
export class Eye extends Glass {
  constructor(id = "eye") {
    super(id, 0.045);
  }

  graticule(c, width, height) {
    c.strokeStyle = colour("graticule");
    c.lineWidth = 1;
    c.beginPath();
    c.moveTo(0, height / 2);
    c.lineTo(width, height / 2);
    c.moveTo(width / 2, height * 0.12);
    c.lineTo(width / 2, height * 0.88);
    c.stroke();
  }

  draw(traces) {
    if (!traces.length) return;
    this.dim();
    const { context: c, width, height } = this.surface;
    const reach = (height / 2) * 0.66;
    c.strokeStyle = colour("trace");
    c.lineWidth = 1.2;
    c.globalAlpha = 0.7;
    c.beginPath();
    for (const { points } of traces) {
      const x = (k) => (k / (points.length - 1)) * width;
      points.forEach((p, k) => (k ? c.lineTo : c.moveTo).call(c, x(k), height / 2 - (p / 127) * reach));
    }
    c.stroke();
    c.globalAlpha = 1;
  }
}
