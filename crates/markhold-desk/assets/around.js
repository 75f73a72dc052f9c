// What else is heard: signals by pitch with what they are, and tones of others. A signal that is
// chosen is followed.

import { plain } from "./signal.js";

const $ = (id) => document.getElementById(id);
const KEYING = {
  steady: "a steady tone: a carrier, or an idle signal",
  morse: "keyed on and off, as Morse is",
  "start-stop": "keyed as one tone of start-stop signals, not read yet",
};

/** A signal in words: its pitch, and what it is. */
function signalWords(s) {
  const rate = plain(s.usual_rate_baud ?? s.rate_baud, 2);
  const shift = plain(s.usual_shift_hz ?? s.shift_hz, 0);
  return `start-stop, ${rate} baud, ${shift} Hz apart, ${plain(s.snr_3khz_db, 0).replace("-", "\u2212")} dB`;
}

export class Around {
  constructor(link) {
    this.link = link;
    this.signals = [];
    this.tones = [];
    this.all = false;
    $("copy-all").addEventListener("click", () => link.ask("change", { all: !this.all, hold: { at_hz: null } }));
    this.draw();
  }

  /** The signals that the receiver follows. */
  setSignals(signals) {
    this.signals = signals;
    this.draw();
  }

  /** Tones of others. */
  setTones(tones) {
    this.tones = tones;
    this.draw();
  }

  /** Whether all signals are copied. */
  setAll(all) {
    this.all = all;
    this.draw();
  }

  entries() {
    const others = this.signals.filter((s) => this.all || !s.copied);
    const signals = others.map((s) => {
      const hz = (s.mark_hz + s.space_hz) / 2;
      return { hz, key: `signal-${s.signal}`, words: signalWords(s), follow: hz };
    });
    const tones = this.tones.map(({ hz, keying }) => ({ hz, key: `tone-${Math.round(hz / 30)}`, words: KEYING[keying], follow: null }));
    return [...signals, ...tones].sort((a, b) => a.hz - b.hz);
  }

  /** Anew where it has changed; who is about to press a button finds it where it was. */
  draw() {
    const entries = this.entries();
    const shown = JSON.stringify(entries.map(({ hz, ...rest }) => ({ ...rest, hz: Math.round(hz / 10) })));
    $("copy-all").hidden = this.signals.length < 2 && !this.all;
    $("copy-all").textContent = this.all ? "Copy the strongest only" : `Copy all ${this.signals.length}, a sheet each`;
    if (shown === this.shown) return;
    this.shown = shown;
    const looked = document.activeElement?.dataset?.around;
    $("around").replaceChildren(...entries.map((entry) => this.item(entry)));
    $("others").hidden = entries.length === 0 && $("copy-all").hidden;
    if (looked) $("around").querySelector(`[data-around="${looked}"]`)?.focus();
  }

  item({ hz, key, words, follow }) {
    const [li, said] = [document.createElement("li"), document.createElement("span")];
    said.textContent = `${Math.round(hz)} Hz: ${words}`;
    li.append(said);
    if (follow !== null) {
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.around = key;
      button.textContent = "Follow";
      button.setAttribute("aria-label", `Follow the signal at ${Math.round(hz)} Hz`);
      button.addEventListener("click", () => this.link.ask("change", { all: false, hold: { at_hz: follow } }));
      li.append(button);
    }
    return li;
  }
}
