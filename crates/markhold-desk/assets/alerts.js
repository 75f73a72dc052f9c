// What must be said in words: no sound, no connection, lightning, a wish that cannot be.

export class Alerts {
  constructor() {
    this.element = document.getElementById("alerts");
    this.said = new Map();
  }

  /** Says something under a name, in place of what was said under it; nothing clears it. */
  say(name, words, kind = "") {
    const old = this.said.get(name);
    if (!words) {
      old?.remove();
      this.said.delete(name);
      return;
    }
    if (old?.textContent === words) return;
    const p = old ?? document.createElement("p");
    p.className = `alert ${kind}`;
    p.textContent = words;
    if (!old) this.element.append(p);
    this.said.set(name, p);
  }

  /** Says something for a while. */
  mention(name, words, seconds = 9) {
    this.say(name, words, "mention");
    setTimeout(() => this.said.get(name)?.textContent === words && this.say(name, null), 1000 * seconds);
  }
}
