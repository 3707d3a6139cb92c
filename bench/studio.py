"""Speed of the studio: from a changed stroke to new notation, and from play to sound."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

from playwright.sync_api import Browser, Page

from fillwright.studio.serve import set_up
from fillwright.studio.sounds.kit_sounds import load_all_layers
from tests.browser import CHROMIUM
from tests.e2e.studio_server import answering, chromium, furnish

_CHANGES, _PLAYS = 100, 20
"""Changed strokes, and plays, that are timed. Ours."""

_AIM_MS = 100
"""Milliseconds until an answer feels immediate (common practice, no source)."""

_FILL = (
    "/workshop?sticking=R%3E+L+R+R+L%3E+R+L+L+R%3E+L+R+R+L%3E+R+L+L&rhythm=16&beats=4"
    "&on=snare,snare,snare,snare,high+tom,high+tom,high+tom,high+tom,mid+tom,mid+tom,mid+tom,mid+tom"
    ",floor+tom,floor+tom,floor+tom,floor+tom"
)

_CHANGED = """async (count) => {
  const keys = ["ArrowUp", "ArrowRight", "ArrowDown", "ArrowRight", "h", "ArrowRight", "g", "ArrowRight", "f"];
  const made = [];
  const press = (key) => document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
  for (let i = 0; made.length < count; i++) {
    const key = keys[i % keys.length];
    if (key === "ArrowRight") {
      press(key);
      continue;
    }
    const before = performance.now();
    const shown = new Promise((resolve) => document.addEventListener("fill-changed", resolve, { once: true }));
    press(key);
    await shown;
    document.querySelector("#stand .wide svg").getBoundingClientRect(); // laid out
    made.push(performance.now() - before);
  }
  return made;
}"""

_ANSWERED = """async (count) => {
  const texts = document.getElementById("texts");
  const token = document.querySelector("main").dataset.token;
  const made = [];
  for (let i = 0; i < count; i++) {
    const body = new URLSearchParams(new FormData(texts));
    body.set("drawing", "wide");
    body.set("tempo", String(60 + i)); // no two alike: nothing is kept from before
    const before = performance.now();
    await (await fetch("/workshop/try", { method: "POST", body, headers: { "x-token": token } })).text();
    made.push(performance.now() - before);
  }
  return made;
}"""

_READY = """async () => {
  await (await import("/static/stand.mjs")).ready;
  return performance.now();
}"""

_FETCHED = """() => performance.getEntriesByType("resource")
  .filter((each) => each.name.includes("/sound/kit/"))
  .reduce((sum, each) => sum + each.transferSize, 0) / 1e6"""

_PLAYED = """() => new Promise((resolve) => {
  const start = AudioBufferSourceNode.prototype.start;
  const before = performance.now();
  AudioBufferSourceNode.prototype.start = function (...given) {
    AudioBufferSourceNode.prototype.start = start;
    const ahead = (given[0] ?? 0) - this.context.currentTime;
    resolve([performance.now() - before, performance.now() - before + 1000 * Math.max(0, ahead)]);
    return start.apply(this, given);
  };
  document.getElementById("play").click();
})"""


def main() -> dict[str, float]:
    """Print and return the times and sizes; nothing without Chromium."""
    if not CHROMIUM.exists():
        print("studio: left out; it needs Chromium (apt-get install chromium)")
        return {}
    load_all_layers()
    with tempfile.TemporaryDirectory() as folder:
        setup = set_up(Path(folder) / "studio")
        furnish(setup)
        with answering(setup) as address, chromium() as browser:
            page = browser.new_page(base_url=address, viewport={"width": 1280, "height": 860})
            page.goto(_FILL)
            changed = _p95(page.evaluate(_CHANGED, _CHANGES))
            answered = _p95(page.evaluate(_ANSWERED, _CHANGES))
            ready, fetched, handed_over, sounds = _time_plays(browser, address)
    print(
        f"studio: a changed stroke is on the page within {changed:.0f} ms (p95 of {_CHANGES}, aim: {_AIM_MS}), "
        f"{answered:.0f} ms of them the server's answer"
    )
    print(
        f"  from play to the first sound handed over {handed_over:.0f} ms, to its start {sounds:.0f} ms "
        f"(p95 of {_PLAYS}, aim: {_AIM_MS})"
    )
    print(
        f"  all that the fill strikes is fetched and decoded {ready:.0f} ms after the page was asked for: "
        f"{fetched:.2f} MB (aim: 2)"
    )
    return {
        "changed_ms": changed,
        "answered_ms": answered,
        "handed_over_ms": handed_over,
        "sounds_ms": sounds,
        "ready_ms": ready,
        "fetched_mb": fetched,
    }


def _time_plays(browser: Browser, address: str) -> tuple[float, ...]:
    """Return p95 values: page to sounds ready, MB fetched, play to sound handed over, play to its start."""
    rows = []
    for _ in range(_PLAYS):
        page: Page = browser.new_page(base_url=address)
        page.goto(_FILL)
        page.locator("h1").click()  # browsers want the page touched first
        ready = page.evaluate(_READY)
        rows.append((ready, page.evaluate(_FETCHED), *page.evaluate(_PLAYED)))
        page.close()
    return tuple(_p95(column) for column in zip(*rows, strict=True))


def _p95(values: Sequence[float]) -> float:
    return sorted(values)[int(0.95 * (len(values) - 1))]


if __name__ == "__main__":
    main()
