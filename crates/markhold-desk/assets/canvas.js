// A canvas that is as sharp as the screen and keeps its size in step with its place.

/** Calls `resized()` whenever the place changes its size. Sizes are in CSS pixels. */
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
    this.width = this.canvas.clientWidth;
    this.height = this.canvas.clientHeight;
    this.canvas.width = Math.max(1, Math.round(this.width * dots));
    this.canvas.height = Math.max(1, Math.round(this.height * dots));
    this.context.setTransform(dots, 0, 0, dots, 0, 0);
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
