// The socket to the desk: comes back by itself, and tells which pictures were painted.

/** First and longest wait before another try, ms. */
const WAIT = [400, 5000];
/** How often painted pictures are told, ms. */
const TELL = 300;
/** After so long without a word the link is made anew, ms: a phone that left the network is
 * told of it by nobody. */
const GIVEN_UP = 10000;

export class Link {
  /** `hear(said)` gets what was said, `see(bytes)` pictures, `state(open)` changes. */
  constructor(hear, see, state) {
    this.hear = hear;
    this.see = see;
    this.state = state;
    this.wait = WAIT[0];
    this.painted = 0;
    this.told = 0;
    this.open();
    setInterval(() => this.tell(), TELL);
  }

  open() {
    const place = new URL("/socket", location.href);
    place.protocol = "ws:";
    const socket = new WebSocket(place);
    this.heardAt = performance.now();
    socket.binaryType = "arraybuffer";
    let opened = false;
    socket.onopen = () => {
      opened = true;
      this.wait = WAIT[0];
      this.painted = this.told = 0;
      this.state(true);
    };
    socket.onmessage = (event) => {
      this.heardAt = performance.now();
      if (typeof event.data === "string") this.hear(JSON.parse(event.data));
      else this.see(event.data);
    };
    socket.onclose = () => {
      if (!opened) knock();
      this.again();
    };
    this.socket = socket;
  }

  /** The link is lost: another try after a while. */
  again() {
    this.socket.onopen = this.socket.onmessage = this.socket.onclose = null;
    this.socket.close();
    this.heardAt = Infinity;
    this.state(false);
    setTimeout(() => this.open(), this.wait);
    this.wait = Math.min(this.wait * 1.7, WAIT[1]);
  }

  /** Asks the desk for something. */
  ask(ask, value) {
    if (this.socket.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify({ ask, value }));
  }

  tell() {
    if (performance.now() - this.heardAt > GIVEN_UP) this.again();
    if (this.painted !== this.told) {
      this.told = this.painted;
      this.ask("painted", this.painted);
    }
  }
}

/** A browser is not told why a socket stays shut: if the key is no longer good, to the entrance. */
async function knock() {
  const answer = await fetch("/", { method: "HEAD", redirect: "manual" }).catch(() => null);
  if (answer?.type === "opaqueredirect") location.assign("/enter");
}
