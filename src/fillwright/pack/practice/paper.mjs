// Printing: the fill that is shown, or all of them.

import { drawForPaper } from "./drawings.mjs";
import { byId } from "./elements.mjs";

/** Print every fill of the lesson. @param {import("./types.d.ts").PageFill[]} fills */
export function printAll(fills) {
  byId("all").innerHTML = fills.map(drawForPaper).join("");
  byId("all").hidden = false;
  document.body.classList.add("printing-all");
  print();
}

addEventListener("afterprint", () => {
  document.body.classList.remove("printing-all");
  byId("all").hidden = true;
  byId("all").replaceChildren();
});
