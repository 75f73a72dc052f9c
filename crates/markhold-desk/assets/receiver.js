// The practice receiver: a dial with a brass film that runs behind a hairline, and knobs.

import { Surface, colour } from "./canvas.js";

/** What of the scale the window shows, Hz. */
const WINDOW_HZ = 8000;
/** Steps of the keys and the wheel, Hz. */
const STEP_HZ = 10;
const ENDS_HZ = [7030000, 7050000];
/** The desk's answer is not believed for so long after the hand was on it, ms. */
const HAND_MS = 400;

function signed(value, unit) {
  return `${value < 0 ? "\u2212" : ""}${Math.abs(value)} ${unit}`;
}

export class PracticeReceiver {
  constructor(link) {
    this.link = link;
    this.section = document.getElementById("receiver");
    this.dial = document.getElementById("dial");
    this.surface = new Surface("film", () => this.draw());
    this.hz = 7040000;
    this.touched = -Infinity;
    this.attendDial();
    this.attendKnobs();
  }

  show(shown) {
    this.section.hidden = !shown;
    if (shown) {
      this.surface.fit();
      this.draw();
    }
  }

  /** How the desk says it stands. */
  set(stands) {
    if (performance.now() - this.touched > HAND_MS) {
      this.hz = stands.dial_hz;
      this.draw();
    }
    for (const input of document.getElementsByName("sideband")) input.checked = input.value === stands.sideband;
    this.knob("off", stands.off_hz);
    this.knob("warm", stands.warm_s);
    this.knob("static", stands.static_per_min);
    this.knob("volume", stands.volume_db);
    this.plugged = stands.plugged;
    const plug = document.getElementById("plug");
    plug.textContent = stands.plugged ? "Pull the plug" : "Put the plug in";
    plug.setAttribute("aria-pressed", String(!stands.plugged));
  }

  /** Who is on the band, with a button that turns the dial there. */
  setStations(stations) {
    const items = stations.map(({ call, what, dial_hz: hz }) => {
      const [li, go] = [document.createElement("li"), document.createElement("button")];
      go.type = "button";
      go.textContent = `${(hz / 1000).toFixed(2)} kHz`;
      go.setAttribute("aria-label", `Turn the dial to ${go.textContent}`);
      go.addEventListener("click", () => this.link.ask("practice", { dial_hz: hz, sideband: "lower" }));
      li.append(`${call}, ${what} `, go);
      return li;
    });
    document.getElementById("stations").replaceChildren(...items);
  }

  knob(name, value) {
    const input = document.getElementById(name);
    if (document.activeElement !== input || performance.now() - this.touched > HAND_MS) input.value = value;
    this.label(name, Number(input.value));
  }

  label(name, value) {
    const words = {
      off: () => signed(value, "Hz"),
      warm: () => (value < 120 ? `${value} s` : `${Math.round(value / 60)} min`),
      static: () => (value ? `${value} crashes a minute` : "none"),
      volume: () => signed(value, "dB"),
    };
    document.getElementById(`${name}-out`).textContent = words[name]();
  }

  turn(what) {
    this.touched = performance.now();
    this.link.ask("practice", what);
  }

  turnDial(hz) {
    this.hz = Math.min(Math.max(Math.round(hz), ENDS_HZ[0]), ENDS_HZ[1]);
    this.draw();
    this.turn({ dial_hz: this.hz });
  }

  attendDial() {
    const dial = this.dial;
    let from = null;
    dial.addEventListener("pointerdown", (e) => {
      from = { x: e.clientX, hz: this.hz };
      dial.setPointerCapture(e.pointerId);
    });
    dial.addEventListener("pointermove", (e) => {
      // The film follows the finger: dragging it left brings higher frequencies.
      if (from) this.turnDial(from.hz - ((e.clientX - from.x) / dial.clientWidth) * WINDOW_HZ);
    });
    const lift = () => (from = null);
    dial.addEventListener("pointerup", lift);
    dial.addEventListener("pointercancel", lift);
    dial.addEventListener("wheel", (e) => {
      e.preventDefault();
      this.turnDial(this.hz - Math.sign(e.deltaY || e.deltaX) * STEP_HZ * (e.shiftKey ? 10 : 1));
    }, { passive: false });
    dial.addEventListener("keydown", (e) => this.key(e));
  }

  key(event) {
    const step = STEP_HZ * (event.shiftKey ? 10 : 1);
    const moves = {
      ArrowUp: step, ArrowRight: step, ArrowDown: -step, ArrowLeft: -step,
      PageUp: 1000, PageDown: -1000,
    };
    if (event.key in moves) this.turnDial(this.hz + moves[event.key]);
    else if (event.key === "Home") this.turnDial(ENDS_HZ[0]);
    else if (event.key === "End") this.turnDial(ENDS_HZ[1]);
    else return;
    event.preventDefault();
  }

  attendKnobs() {
    const names = { off: "off_hz", warm: "warm_s", static: "static_per_min", volume: "volume_db" };
    for (const [name, field] of Object.entries(names)) {
      const input = document.getElementById(name);
      input.addEventListener("input", () => {
        this.label(name, Number(input.value));
        this.turn({ [field]: Number(input.value) });
      });
    }
    for (const input of document.getElementsByName("sideband")) {
      input.addEventListener("change", () => this.turn({ sideband: input.value }));
    }
    document.getElementById("plug").addEventListener("click", () => this.turn({ plugged: !this.plugged }));
  }

  draw() {
    const khz = (this.hz / 1000).toFixed(2);
    this.dial.setAttribute("aria-valuenow", khz);
    this.dial.setAttribute("aria-valuetext", `${khz} kilohertz`);
    const { context: c, width, height } = this.surface;
    if (!width) return;
    this.film(c, width, height);
    c.fillStyle = colour("rubric");
    c.fillRect(Math.round(width / 2) - 1, 0, 2, height);
    c.font = "500 17px Jost, sans-serif";
    c.textAlign = "left";
    const words = `${khz.replace(/\B(?=(\d{3})+(?!\d)\.)/, " ")} kHz`;
    const wide = c.measureText(words).width;
    c.fillStyle = colour("brass-light");
    c.fillRect(width / 2 + 6, height - 25, wide + 12, 21);
    c.fillStyle = colour("engraved");
    c.fillText(words, width / 2 + 12, height - 9);
  }

  film(c, width, height) {
    const shade = c.createLinearGradient(0, 0, width, 0);
    shade.addColorStop(0, colour("brass-dark"));
    shade.addColorStop(0.5, colour("brass-light"));
    shade.addColorStop(1, colour("brass-dark"));
    c.fillStyle = shade;
    c.fillRect(0, 0, width, height);
    c.strokeStyle = c.fillStyle = colour("engraved");
    c.font = "500 14px Jost, sans-serif";
    c.textAlign = "center";
    c.lineWidth = 1;
    c.beginPath();
    const first = Math.ceil((this.hz - WINDOW_HZ / 2) / 100) * 100;
    for (let hz = first; hz <= this.hz + WINDOW_HZ / 2; hz += 100) {
      if (hz < ENDS_HZ[0] || hz > ENDS_HZ[1]) continue;
      const x = Math.round(width / 2 + ((hz - this.hz) / WINDOW_HZ) * width) + 0.5;
      c.moveTo(x, 0);
      c.lineTo(x, hz % 1000 === 0 ? 24 : hz % 500 === 0 ? 16 : 9);
      if (hz % 1000 === 0) c.fillText(String(hz / 1000), x, 40);
    }
    c.stroke();
  }
}
