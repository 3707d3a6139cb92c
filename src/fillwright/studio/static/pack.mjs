// Shows how far the build of a pack or the work on a take is; when it is done, the page is loaded again.

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
  const place = byId("place");
  place.hidden = !report.place;
  find(place, "b").textContent = String(report.place);
  if (report.share !== undefined) showShare(progress, report.share, report.what);
  setTimeout(look, LOOK_MS, progress, url);
}

/** @param {HTMLElement} progress @param {number} share @param {string} file */
function showShare(progress, share, file) {
  const bar = /** @type {HTMLProgressElement} */ (find(progress, "progress"));
  bar.value = share;
  bar.textContent = `${share} %`;
  byId("what").textContent = file;
}

if (box?.dataset.running === "yes" && box.dataset.url) look(box, box.dataset.url);
