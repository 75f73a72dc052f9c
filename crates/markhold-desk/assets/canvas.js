// A canvas that is as sharp as the screen and keeps its size in step with its place and with
// the size of text.

/** Size of text that drawings are made for, CSS pixels. */
const TEXT = 16;

/** Calls `resized()` whenever the place changes its size. Sizes are in CSS pixels at the usual
 * size of text: who sets text larger gets letters, marks and distances larger alike. */
export class Surface {
  constructor(id, resized = () => {}) {
    this.canvas = document.getElementById(id);
    this.context = this.canvas.getContext("2d");
    this.width = this.height = 0;
    new ResizeObserver(() => {
      this.fit();
      resized();
    }).observe(this.canvas);
    this.fit();
  }

  fit() {
    // More than two dots a pixel cost time and are not seen.
    const dots = Math.min(window.devicePixelRatio || 1, 2);
    this.scale = parseFloat(getComputedStyle(document.documentElement).fontSize) / TEXT || 1;
    const [width, height] = [this.canvas.clientWidth, this.canvas.clientHeight];
    this.width = width / this.scale;
    this.height = height / this.scale;
    this.canvas.width = Math.max(1, Math.round(width * dots));
    this.canvas.height = Math.max(1, Math.round(height * dots));
    this.context.setTransform(dots * this.scale, 0, 0, dots * this.scale, 0, 0);
  }
}

let colours = {};

/** A colour of the style sheet by its name, such as `ink`. */
export function colour(name) {
  if (!(name in colours)) {
    colours[name] = getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
  }
  return colours[name];
}

/** Forgets colours: the light has changed. */
export function relight() {
  colours = {};
}
