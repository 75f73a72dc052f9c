// What is loaded when it is wanted: the first evening, and what an instrument shows. The page is
// lighter without.

import { here } from "./tools.js";

/** A style sheet of the page's own, once. */
function styled(name) {
  if (document.getElementById(`style-${name}`)) return;
  const sheet = document.createElement("link");
  Object.assign(sheet, { id: `style-${name}`, rel: "stylesheet", href: `/assets/${name}.css` });
  document.head.append(sheet);
}

let guide = null;
async function guided() {
  styled("guide");
  const { Guide } = await import("./guide.js");
  guide ??= new Guide();
  return guide;
}

document.getElementById("first-evening")?.addEventListener("click", async () => (await guided()).start());
if ((here.get("guide") ?? "null") !== "null") guided();

document.addEventListener("click", async (event) => {
  const asked = event.target.closest?.("[data-legend]");
  if (!asked) return;
  styled("legend");
  (await import("./legend.js")).show(asked.dataset.legend);
});
