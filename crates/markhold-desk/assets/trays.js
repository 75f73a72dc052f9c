// Sheets side by side: signals that are typed at the same time lie on a sheet each, one below the
// other, each with its own heading and its own newest line in sight. One alone has all the paper.

/** A lane is in use while its last line began no longer before the latest of all, s: longer than a pause
 * between two overs. */
const IN_USE_S = 90;

/** One sheet of several, which is moved by itself and follows its newest line until it is. */
class Tray {
  constructor(lane, keepInSight) {
    this.keepInSight = keepInSight;
    this.element = document.createElement("div");
    this.element.className = "tray";
    this.element.tabIndex = 0;
    this.element.setAttribute("role", "region");
    this.element.setAttribute("aria-label", `Sheet ${lane + 1}`);
    this.follows = true;
    this.element.addEventListener("scroll", () => {
      const e = this.element;
      this.follows = e.scrollHeight - e.scrollTop - e.clientHeight < 24;
    });
  }

  follow(column, each) {
    if (!this.follows) return;
    this.element.scrollTop = this.element.scrollHeight;
    this.keepInSight(this.element, column, each);
  }
}

export class Trays {
  /** `keepInSight(paper, column, each)` moves a paper to where it is typed on. */
  constructor(paper, keepInSight) {
    this.paper = paper;
    this.keepInSight = keepInSight;
    this.several = false;
    this.clear();
  }

  /** Fresh paper. */
  clear() {
    /** Lanes in use and their trays; none while all lie on one sheet. */
    this.trays = new Map();
    this.paper.classList.remove("several");
  }

  setSeveral(several) {
    this.several = several;
  }

  /** Puts each piece where it belongs, in order. */
  place(pieces, each = 0) {
    const lanes = this.lanes(pieces);
    if (lanes.join() !== [...this.trays.keys()].join()) this.lay(lanes);
    const homes = this.trays.size ? [...this.trays.values()].map((tray) => tray.element) : [this.paper];
    const home = (piece) => this.trays.get(piece.lane)?.element ?? homes[0];
    const [last, columns] = [new Map(), new Map()];
    for (const piece of pieces) {
      const at = home(piece);
      const before = last.get(at) ?? null;
      if (piece.element.parentElement !== at || (before && piece.element.previousElementSibling !== before)) {
        before ? before.after(piece.element) : at.prepend(piece.element);
      }
      last.set(at, piece.element);
      columns.set(at, piece.column);
    }
    for (const tray of this.trays.values()) tray.follow(columns.get(tray.element) ?? 0, each);
  }

  /** The lanes that are typed in now, where there are several. */
  lanes(pieces) {
    if (!this.several) return [];
    const latest = Math.max(...pieces.map((piece) => piece.latest));
    const lanes = new Set(pieces.filter((piece) => latest - piece.latest < IN_USE_S).map((piece) => piece.lane));
    return lanes.size > 1 ? [...lanes].sort((a, b) => a - b) : [];
  }

  lay(lanes) {
    const old = this.trays;
    this.trays = new Map(lanes.map((lane) => [lane, old.get(lane) ?? new Tray(lane, this.keepInSight)]));
    this.paper.classList.toggle("several", lanes.length > 0);
    // Pieces come out of trays that go, before those go.
    for (const [lane, tray] of old) if (!this.trays.has(lane)) this.paper.append(...tray.element.children), tray.element.remove();
    for (const { element } of this.trays.values()) this.paper.append(element);
  }
}
