// What must be said in words: no sound, no connection, lightning, a wish that cannot be. It lies
// over a corner of the page and pushes nothing away; what was read can be put away.

import { link, ofAlert } from "./more.js";

export class Alerts {
  constructor() {
    this.element = document.getElementById("alerts");
    this.said = new Map();
  }

  /** Says something under a name, in place of what was said under it; nothing clears it. Who put
   * it away is told again only when it is something else, or after it was cleared. */
  say(name, words, kind = "") {
    const old = this.said.get(name);
    if (old?.words === (words || null)) return;
    old?.p.remove();
    this.said.delete(name);
    if (!words) return;
    const [p, away] = [document.createElement("p"), document.createElement("button")];
    p.className = `alert ${kind}`;
    p.textContent = words;
    away.type = "button";
    away.textContent = "Put away";
    away.addEventListener("click", () => p.remove());
    const more = ofAlert(name);
    p.append(" ", ...(more ? [link("More", more, words.slice(0, 60)), " "] : []), away);
    this.element.append(p);
    this.said.set(name, { p, words });
  }

  /** Says something for a while. */
  mention(name, words, seconds = 9) {
    this.say(name, words, "mention");
    setTimeout(() => this.said.get(name)?.words === words && this.say(name, null), 1000 * seconds);
  }
}
