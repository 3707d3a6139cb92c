"""A studio while the largest take and the largest pack are worked on: how long others wait for their pages.

The visitors run on the same machine as the server, so the numbers are those of a machine that does both.
"""

from __future__ import annotations

import io
import os
import re
import statistics
import tempfile
import threading
import time
import wave
from pathlib import Path

import httpx
import numpy as np

from bench.studio_load import find_token, run_studio
from fillwright import budget
from fillwright.lesson.file import read_demo_text
from fillwright.music.rudiments import load_rudiments
from fillwright.store.database import open_store
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.students import Profile, add_student, assign
from fillwright.store.takes import LARGEST_TAKE_BYTES
from fillwright.store.transaction import begin_writing, ensure_teacher
from fillwright.studio.work.lessons import plan_text

VISITORS = 8
"""Visitors who open pages at the same time. Ours."""

_SECONDS = float(os.environ.get("FILLWRIGHT_BUSY_SECONDS", "60"))
"""Length of the measurement, in seconds. Ours."""

_AIM_MS = 200
"""Median in ms that others may wait. Ours."""

_PAUSE_SECONDS = 0.5  # between two pages of one visitor; ours
_STROKES_PER_SECOND = 8  # sixteenth notes at 120 bpm
_SEED = 12


def main() -> dict[str, float]:
    """Print and return the seconds that pages took, idle and busy."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _fill(folder)
        with (
            run_studio(folder, "", school=False) as address,
            httpx.Client(base_url=address, timeout=600) as client,
        ):
            pages = ("/", "/students", "/settings", "/students/1", "/lessons/1", "/help/glossary")
            for page in pages:
                client.get(page).raise_for_status()  # lessons are planned once, as after a start
            idle = _measure(address, pages, _SECONDS / 4)
            client.headers["x-token"] = find_token(client.get("/help/shortcuts").text)
            client.post("/lessons/2/pack").raise_for_status()
            sending = threading.Thread(target=_send_take, args=(client,))
            sending.start()
            time.sleep(2)
            busy = _measure(address, pages, _SECONDS)
            state = client.get("/lessons/2/pack/progress").json()
            client.post("/lessons/2/pack/cancel")
            sending.join()
    for words, seconds in (("idle", idle), ("busy", busy)):
        p95 = statistics.quantiles(seconds, n=20)[-1]
        median = statistics.median(seconds)
        print(f"{words}: {len(seconds)} pages, median {median * 1e3:.0f} ms, 95 % within {p95 * 1e3:.0f} ms")
    print(f"  the pack was still being built: {state['running']}, {state['share']} %; aim: {_AIM_MS} ms median")
    return {"idle": statistics.median(idle), "busy": statistics.median(busy)}


def _fill(folder: Path) -> None:
    """Fill a studio with a student, a usual lesson and the largest that a pack is built of."""
    store = open_store(folder / "studio.db")
    with begin_writing(store, ensure_teacher(store)) as transaction:
        series = add_series(transaction, "A year")
        usual = add_lesson(transaction, series, read_demo_text())
        add_lesson(transaction, series, _write_largest())
        student = add_student(transaction, Profile(name="Pim"))
        assign(transaction, student, usual)
    store.close()


def _write_largest() -> str:
    """Write a lesson with all rudiments, at three tempos: near the most audio files of a pack."""
    figures = "".join(f'\n[[figure]]\nname = "{figure.name}"\n' for figure in load_rudiments())
    head = 'number = 2\ntitle = "Everything"\ngoal = "All rudiments."\ntempo = "60, 70, 80"\n'
    return head + figures


def _write_take() -> bytes:
    """Write the longest recording that can be sent: strokes and noise, up to both limits."""
    rate = 22_050
    seconds = min(budget.TAKE_SECONDS - 5, LARGEST_TAKE_BYTES / (2 * rate) - 1)
    random = np.random.default_rng(_SEED)
    samples = random.normal(0, 30, round(seconds * rate))
    for at in np.arange(1, seconds - 1, 1 / _STROKES_PER_SECOND):
        start = round((at + random.normal(0, 0.01)) * rate)
        stroke = random.normal(0, 9_000, rate // 12) * np.exp(-np.arange(rate // 12) / 300)
        samples[start : start + len(stroke)] += stroke
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(rate)
        sound.writeframes(np.clip(samples, -32_000, 32_000).astype("<i2").tobytes())
    return file.getvalue()


def _send_take(client: httpx.Client) -> None:
    fill = plan_text(read_demo_text()).fills[0]
    content = _write_take()
    form = {"lesson": "1", "fill": fill.name, "tempo": str(fill.ladder[0])}
    start = time.monotonic()
    with httpx.Client(base_url=client.base_url, timeout=600) as sender:
        sender.headers["x-token"] = find_token(sender.get("/help/shortcuts").text)
        answer = sender.post("/students/1/takes", data=form, files={"recording": ("take.wav", content)})
        page = answer.headers.get("location", "")
        while "waiting" in page and sender.get(f"{page}/progress").json()["running"]:
            time.sleep(0.5)
        last = sender.get(page) if page else answer
    words = "measured" if last.status_code in (200, 303) else _read_alert(last.text)
    print(f"the take of {len(content) / 1e6:.0f} MB: {words} after {time.monotonic() - start:.0f} s")


def _read_alert(page: str) -> str:
    match = re.search(r'role="alert">(.*?)</', page, re.DOTALL)
    return match[1].strip() if match else "no answer"


def _measure(address: str, pages: tuple[str, ...], seconds: float) -> list[float]:
    """Return the seconds of each page that visitors opened for a while."""
    results: list[float] = []
    ends = time.monotonic() + seconds

    def visit(number: int) -> None:
        with httpx.Client(base_url=address, timeout=600) as client:
            while time.monotonic() < ends:
                page = pages[(number + len(results)) % len(pages)]
                start = time.perf_counter()
                client.get(page).raise_for_status()
                results.append(time.perf_counter() - start)
                time.sleep(_PAUSE_SECONDS)

    threads = [threading.Thread(target=visit, args=(number,)) for number in range(VISITORS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


if __name__ == "__main__":
    main()
