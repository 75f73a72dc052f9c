// Live time and the clock on the wall. Everything is shown in UTC, as radio logs are kept.

export class Clock {
  constructor() {
    this.anchors = [];
  }

  /** Anchors of a snapshot: `{at_s, utc}`. */
  begin(anchors) {
    this.anchors = [];
    anchors.forEach((a) => this.add(a));
  }

  add(anchor) {
    this.anchors.push({ at: anchor.at_s, ms: Date.parse(anchor.utc) });
  }

  /** The date at a live time, s; `null` before anything was heard. */
  date(at) {
    let best = this.anchors[0];
    for (const anchor of this.anchors) if (anchor.at <= at + 1e-6) best = anchor;
    return best ? new Date(best.ms + 1000 * (at - best.at)) : null;
  }

  /** `19:32`, or `19:32:07` with seconds. */
  time(at, seconds = false) {
    const date = this.date(at);
    return date ? date.toISOString().slice(11, seconds ? 19 : 16) : "";
  }

  /** `21 March 2026`. */
  day(at) {
    const date = this.date(at);
    const how = { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" };
    return date ? date.toLocaleDateString("en-GB", how) : "";
  }
}
