// The received sound in the page: off at first. Blocks come a little ahead and are played one
// after the other; the layout is told in the desk's hearing.rs.

const HEADER = 8;
/** How far ahead of what is heard sound is laid, s: what a network and a busy browser delay. */
const LEAD = 0.25;
/** More than this ahead is left out, s: practice may pass faster than the clock. */
const MOST = 1.5;

/** Whether a message holds sound. */
export function isSound(buffer) {
  return new Uint8Array(buffer, 0, 1)[0] === 0x53;
}

export class Ear {
  constructor(link) {
    this.link = link;
    this.button = document.getElementById("ear");
    this.on = false;
    this.at = 0;
    this.button.addEventListener("click", () => this.set(!this.on));
  }

  set(on) {
    this.on = on;
    this.button.setAttribute("aria-pressed", String(on));
    if (on) {
      this.context ??= new AudioContext();
      this.context.resume();
    } else this.context?.suspend();
    this.link.ask("sound", on);
  }

  /** The link is new: the desk is told again what is wanted. */
  again() {
    if (this.on) this.link.ask("sound", true);
  }

  take(bytes) {
    const view = new DataView(bytes);
    if (!this.on || view.getUint8(1) !== 1) return;
    const rate = view.getUint32(4, true);
    const count = (bytes.byteLength - HEADER) >> 1;
    const now = this.context.currentTime;
    if (this.at < now) this.at = now + LEAD;
    if (!count || this.at > now + MOST) return;
    const block = this.context.createBuffer(1, count, rate);
    const samples = block.getChannelData(0);
    for (let k = 0; k < count; k++) samples[k] = view.getInt16(HEADER + 2 * k, true) / 32768;
    const source = this.context.createBufferSource();
    source.buffer = block;
    source.connect(this.context.destination);
    source.start(this.at);
    this.at += count / rate;
  }
}
