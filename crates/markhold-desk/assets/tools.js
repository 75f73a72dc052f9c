// Copy, save and print the sheet; how it is read; the light.

const $ = (id) => document.getElementById(id);

/** What the person chose is remembered by the browser, where it may; or by this page alone. */
const memory = (store) => ({
  get(name) {
    try {
      return store().getItem(name);
    } catch {
      return null;
    }
  },
  set(name, value) {
    try {
      store().setItem(name, value);
    } catch {
      // A browser that remembers nothing shows the usual.
    }
  },
});
export const remembered = memory(() => localStorage);
export const here = memory(() => sessionStorage);

/** Puts text on the clipboard. */
export async function toClipboard(text) {
  if (navigator.clipboard && window.isSecureContext) return navigator.clipboard.writeText(text);
  // On a phone in the local network there is no clipboard to write to; the old way works.
  const area = document.createElement("textarea");
  area.value = text;
  document.body.append(area);
  area.select();
  const done = document.execCommand("copy");
  area.remove();
  if (!done) throw new Error("no clipboard");
}

/** `now()` is the date up to where sound was taken in, or `null`; `name()` what the copy is called. */
export function attendTools(sheet, now, alerts, name) {
  $("copy").addEventListener("click", async () => {
    try {
      await toClipboard(sheet.text(false));
      alerts.mention("copied", "The copy is on the clipboard.", 4);
    } catch {
      alerts.mention("copied", "The browser does not let this page copy; select the text and copy it.");
    }
  });
  $("save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([`${sheet.text(true)}\n`], { type: "text/plain;charset=utf-8" }));
    const date = now() ?? new Date();
    link.download = `${name()}-${date.toISOString().slice(0, 16).replace(/[:T]/g, "-")}.txt`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  });
  $("print").addEventListener("click", () => window.print());
}

/** The size of the copy, and which panels are open: as they were left. */
export function attendLayout(resized) {
  const type = $("type");
  const set = () => {
    document.documentElement.style.setProperty("--type", type.value);
    resized();
  };
  type.value = remembered.get("type") ?? "1";
  type.addEventListener("input", () => {
    remembered.set("type", type.value);
    set();
  });
  set();
  const open = new Set((remembered.get("panels") ?? "").split(" ").filter(Boolean));
  for (const panel of document.querySelectorAll("details[id]")) {
    if (open.has(panel.id)) panel.open = true;
    panel.addEventListener("toggle", () => {
      open[panel.open ? "add" : "delete"](panel.id);
      remembered.set("panels", [...open].join(" "));
    });
  }
}

/** The light of the room: the system's, or as chosen. */
export function attendLight(relit) {
  const root = document.documentElement;
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const show = () => {
    const night = root.dataset.light ? root.dataset.light === "night" : dark.matches;
    $("light").setAttribute("aria-pressed", String(night));
    relit();
  };
  const chosen = remembered.get("light");
  if (chosen) root.dataset.light = chosen;
  $("light").addEventListener("click", () => {
    const night = $("light").getAttribute("aria-pressed") === "true";
    root.dataset.light = night ? "day" : "night";
    remembered.set("light", root.dataset.light);
    show();
  });
  dark.addEventListener("change", show);
  show();
}
