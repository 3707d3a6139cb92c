// Shows how far the build of a pack is; when it is done, the page is loaded again.

import { byId, find } from "./elements.mjs";

const LOOK_MS = 500;
const box = document.getElementById("progress");

/** @param {HTMLElement} progress @param {string} url */
async function look(progress, url) {
  const response = await fetch(url, { headers: { accept: "application/json" } });
  if (!response.ok) return;
  const report = await response.json();
  if (!report.running) {
    location.reload();
    return;
  }
  const bar = /** @type {HTMLProgressElement} */ (find(progress, "progress"));
  bar.value = report.share;
  bar.textContent = `${report.share} %`;
  byId("what").textContent = report.what;
  setTimeout(look, LOOK_MS, progress, url);
}

if (box?.dataset.running === "yes" && box.dataset.url) look(box, box.dataset.url);
