// A page of the manual in the light that was chosen at the desk; a way back where there is one.

import { remembered } from "./tools.js";

const light = remembered.get("light");
if (light) document.documentElement.dataset.light = light;
// In a folder of its own the manual knows no desk.
document.getElementById("to-desk").hidden = !location.pathname.startsWith("/manual/");
