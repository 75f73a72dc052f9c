// Parts of the page that come from the desk when they are first opened; the page stands sooner
// without them. What is told to a part before it is there is kept for it, the latest of each kind.

/** Said under the lid of a part that could not come. */
const WAITS = "This part comes from the desk, which does not answer. It is tried again when the desk does.";

/** Parts that are wanted and could not come. */
const waiting = new Set();
let tries = 0;

/** A module of the page's own. A browser may refuse for ever under a name what it could not get
 * once: the second try has another. */
async function imported(name) {
  try {
    return await import(`./${name}.js`);
  } catch {
    return import(`./${name}.js?try=${++tries}`);
  }
}

const sheets = new Map();

/** A style sheet of the page's own, once; done when it holds. */
function linked(name) {
  const sheet = Object.assign(document.createElement("link"), { rel: "stylesheet", href: `/assets/${name}.css` });
  return new Promise((done, failed) => {
    sheet.addEventListener("load", () => done());
    sheet.addEventListener("error", () => {
      sheet.remove();
      sheets.delete(name);
      failed(new Error(`no style sheet ${name}`));
    });
    document.head.append(sheet);
  });
}

/** A module by its name, with its style sheet where it is `dressed`; fails where the desk does not answer. */
export async function brought(name, dressed = false) {
  if (dressed && !sheets.has(name)) sheets.set(name, linked(name));
  return (await Promise.all([imported(name), dressed && sheets.get(name)]))[0];
}

/** The desk answers again: what could not come is tried again. */
export function answered() {
  for (const part of [...waiting]) part.come();
}

export class Later {
  /** `lid` is the `details` whose first opening brings the part, `get()` brings its module, which
   * `make(module)` makes the part of. */
  constructor(lid, get, make) {
    this.lid = document.getElementById(lid);
    this.get = get;
    this.make = make;
    this.told = new Map();
    this.part = this.coming = null;
    this.lid.addEventListener("toggle", () => this.lid.open && this.come());
    if (this.lid.open) this.come();
  }

  /** Calls the part's `method`, now or when it is there. `wakes`: it matters under a closed lid too. */
  tell(method, value, wakes = false) {
    if (this.part) return this.part[method](value);
    this.told.delete(method);
    this.told.set(method, value);
    if (wakes) this.come();
  }

  /** The part, or `null` while the desk does not answer. */
  async come() {
    return (this.part ??= await (this.coming ??= this.fetched()));
  }

  async fetched() {
    this.shut(true);
    const module = await this.get().catch(() => null);
    this.coming = null;
    this.say(module ? null : WAITS);
    waiting[module ? "delete" : "add"](this);
    if (!module) return null;
    this.part = this.make(module);
    this.shut(false);
    for (const [method, value] of this.told) this.part[method](value);
    this.told.clear();
    return this.part;
  }

  /** What nobody attends to yet cannot be used: a form would leave the page. */
  shut(is) {
    for (const child of this.lid.children) if (child.localName !== "summary") child.inert = is;
  }

  say(words) {
    this.lid.querySelector(".waits")?.remove();
    if (!words) return;
    const p = Object.assign(document.createElement("p"), { className: "waits alert", textContent: words });
    p.setAttribute("role", "status");
    this.lid.querySelector("summary").after(p);
  }
}
