// What a button brings: the first evening, words for a guest, and what an instrument shows.

import { Alerts } from "./alerts.js";
import { brought } from "./later.js";
import { here } from "./tools.js";

const alerts = new Alerts();

/** A module with its style sheet; where the desk does not answer, that is said. */
async function bring(name) {
  try {
    return await brought(name, true);
  } catch {
    alerts.mention("later", "That comes from the desk, which does not answer. Press it again when the desk does.");
    return null;
  }
}

let guide = null;
async function guided() {
  const brings = await bring("guide");
  if (brings) guide ??= new brings.Guide();
  return guide;
}

document.getElementById("first-evening")?.addEventListener("click", async () => (await guided())?.start());
if ((here.get("guide") ?? "null") !== "null") guided();

let guest = null;
document.getElementById("guest")?.addEventListener("click", async () => {
  // Its panel is dressed as the first evening's.
  const [brings] = await Promise.all([bring("guest"), bring("guide")]);
  if (brings) (guest ??= new brings.Guest()).show();
});

document.addEventListener("click", async (event) => {
  const asked = event.target.closest?.("[data-legend]");
  if (asked) (await bring("legend"))?.show(asked.dataset.legend);
});
