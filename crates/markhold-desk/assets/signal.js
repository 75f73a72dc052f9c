// This signal: what it is, and what of it is held.

/** A number without needless noughts. */
export function plain(number, digits) {
  return String(Number(number.toFixed(digits)));
}

const $ = (id) => document.getElementById(id);

export class SignalCard {
  constructor(link, clock) {
    this.link = link;
    this.clock = clock;
    this.followed = null;
    const holds = {
      "hold-pair": [["at_hz", "shift_hz"], () => ({ at_hz: this.middle(), shift_hz: this.shift() })],
      "hold-sense": [["sense"], () => ({ sense: this.followed.mark })],
      "hold-speed": [["rate_baud"], () => ({ rate_baud: this.rate() })],
    };
    for (const [id, [fields, wanted]] of Object.entries(holds)) {
      $(id).addEventListener("click", () => this.toggle(fields, wanted, $(id).getAttribute("aria-pressed") === "true"));
    }
    $("let-go").addEventListener("click", () => link.ask("let-go"));
  }

  middle() {
    return (this.followed.mark_hz + this.followed.space_hz) / 2;
  }

  shift() {
    const s = this.followed;
    return Math.min(Math.max(s.usual_shift_hz ?? s.shift_hz, 85), 1000);
  }

  rate() {
    const s = this.followed;
    return s.usual_rate_baud ?? s.rate_baud;
  }

  /** Only what changes is asked for: somebody else may hold something at another browser. */
  toggle(fields, wanted, held) {
    if (held) {
      const free = Object.fromEntries(fields.map((field) => [field, null]));
      this.link.ask("change", { hold: free });
    } else if (this.followed) {
      this.link.ask("change", { hold: wanted() });
    }
  }

  /** What is set. */
  setHold(hold) {
    const press = (id, on) => {
      $(id).setAttribute("aria-pressed", String(on));
      $(id).firstChild.textContent = on ? "Held" : "Hold";
    };
    press("hold-pair", hold.at_hz !== null);
    press("hold-sense", hold.sense !== null);
    press("hold-speed", hold.rate_baud !== null);
    const any = Object.values(hold).some((v) => v !== null);
    $("let-go").hidden = !any;
  }

  /** The signal that is copied, or `null`. */
  set(signal) {
    this.followed = signal;
    $("no-signal").hidden = signal !== null;
    $("facts").hidden = signal === null;
    if (!signal) return;
    const s = signal;
    const usual = s.usual_shift_hz ? plain(s.usual_shift_hz, 0) : `${plain(s.shift_hz, 0)} (odd)`;
    $("pair").textContent = `Mark ${plain(s.mark_hz, 0)}, space ${plain(s.space_hz, 0)} Hz; shift ${usual} Hz`;
    $("sense").textContent = `Mark is the ${s.mark} tone`;
    const habits = (s.figures_row ? `, ${s.figures_row} figures row` : "") + (s.unshift_on_space ? ", a space returns to letters" : "");
    const stop = (s.stop_units ? `, stop element ${plain(s.stop_units, 2)}` : "") + habits;
    $("speed").textContent = `${plain(this.rate(), 2)} baud${stop}`;
    const sure = s.quality === null || s.quality === undefined ? "" : `; ${Math.round(100 * s.quality)} % sure`;
    $("strength").textContent = `${plain(s.snr_3khz_db, 0).replace("-", "\u2212")} dB over the noise in 3 kHz${sure}`;
  }

  /** Signals that ended, the latest first. */
  setBefore(ended) {
    $("before").hidden = ended.length === 0;
    const items = ended.slice(-30).reverse().map((s) => {
      const li = document.createElement("li");
      const rate = plain(s.usual_rate_baud ?? s.rate_baud, 2);
      const shift = plain(s.usual_shift_hz ?? s.shift_hz, 0);
      const times = `${this.clock.time(s.begin)} to ${this.clock.time(s.until)}`;
      li.textContent = `${times}: ${rate} baud, ${shift} Hz, ${plain(s.snr_3khz_db, 0)} dB`;
      return li;
    });
    $("earlier").replaceChildren(...items);
  }

  /** The pitch of a signal, in words: the middle of its tones. */
  pitch(s) {
    return `${plain((s.mark_hz + s.space_hz) / 2, 0)} Hz`;
  }

  /** The heading of a signal's paper. */
  heading(s) {
    const rate = plain(s.usual_rate_baud ?? s.rate_baud, 2);
    const shift = plain(s.usual_shift_hz ?? s.shift_hz, 0);
    return `${this.clock.day(s.begin)}, ${this.clock.time(s.begin)} UTC \u2013 ${rate} baud, ${shift} Hz`;
  }
}
