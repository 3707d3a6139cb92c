"""What the studio's pages play and record."""

from __future__ import annotations

import io
import json
import re
import wave

import mido
import numpy as np
import pytest
from playwright.sync_api import expect
from scipy.io import wavfile

from tests.e2e.studio.pages import TAKE
from tests.e2e.studio_server import (
    FILL,
)

LOOP_BACK = """
  const loops = new WeakMap();
  const loop = (context) => {
    if (!loops.has(context)) {
      const delay = new DelayNode(context, { delayTime: 0.1 });
      const end = context.createMediaStreamDestination();
      connect.call(delay, end);
      loops.set(context, { delay, end });
    }
    return loops.get(context);
  };
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (target, ...rest) {
    if (target === this.context.destination && this.context instanceof AudioContext)
      connect.call(this, loop(this.context).delay);
    return connect.call(this, target, ...rest);
  };
  const Wanted = AudioContext;
  globalThis.AudioContext = class extends Wanted {
    constructor(...how) {
      super(...how);
      globalThis.sounding = this;
    }
  };
  navigator.mediaDevices.getUserMedia = async () => loop(globalThis.sounding).end.stream;
"""
"""What goes to the loudspeaker comes back through the microphone 100 ms later."""


class TestSound:
    @pytest.mark.parametrize("path", [f"/lessons/1?fill={FILL}", "/workshop", "/figures/flam%20tap"])
    def test_space_plays_the_cursor_goes_and_space_stops(self, open_page, path):
        page = open_page(path)
        page.locator("#tempo").evaluate(
            "(each) => { if (each.tagName === 'INPUT') each.value = 240; else each.value = '80'; }"
        )
        page.keyboard.press(" ")
        button = page.locator("#play")
        expect(button).to_have_text("Stop")
        cursor = page.locator("#stand .cursor")
        expect(cursor).to_be_visible()
        first = cursor.evaluate("(each) => each.style.left")
        expect(cursor).not_to_have_attribute("style", re.compile(f"left: {re.escape(first)}"))
        page.keyboard.press(" ")
        expect(button).to_have_text("Play")
        expect(cursor).to_be_hidden()

    def test_a_stroke_changed_while_it_plays_is_heard_from_there_on(self, open_page):
        page = open_page("/workshop")
        page.get_by_label("Loop").check()
        page.locator("#play").click()
        expect(page.locator("#stand .cursor")).to_be_visible()
        with page.expect_response("**/workshop/try"):
            page.keyboard.press("ArrowUp")
        expect(page.locator("#play")).to_have_text("Stop")
        page.wait_for_timeout(400)
        expect(page.locator("#stand .cursor")).to_be_visible()  # not counted in again
        page.locator("#play").click()
        expect(page.locator("#play")).to_have_text("Play")

    @pytest.mark.parametrize("path", [f"/lessons/1?fill={FILL}", "/workshop"])
    def test_little_is_fetched_and_nothing_on_the_second_visit(self, open_page, path):
        page = open_page("/help/shortcuts")
        first, second = _fetched(page, path), _fetched(page, path)
        assert len(first) == len(second) > 5
        assert 50_000 < sum(first) < 2_000_000
        assert sum(second) == 0

    def test_a_stroke_on_another_surface_brings_its_sound(self, open_page):
        page = open_page("/workshop")
        page.evaluate(_READY)
        with page.expect_response("**/sound/kit/*/*") as found:
            page.keyboard.press("ArrowUp")
        assert found.value.status == 200
        page.evaluate(_PLAYED)

    def test_sounds_chosen_while_a_page_is_open_are_heard_there(self, open_page, setup):
        page = open_page("/workshop")
        page.evaluate(_READY)
        folder = setup.sounds / "my drums"
        folder.mkdir()
        wavfile.write(folder / "snare.wav", 44100, np.hanning(9000).astype(np.float32))
        (folder / "sounds.toml").write_text('[[sound]]\nsurface = "snare"\nfiles = ["snare.wav"]\n', "utf-8")
        aside = open_page("/settings")
        for name in ("my drums", "The modelled kit"):
            aside.get_by_label("Sounds of your pages and packs").select_option(label=name)
            aside.get_by_role("button", name="Save").click()
            expect(aside.get_by_role("status")).to_be_visible()
            with page.expect_response(lambda answer: "/sound/kit/" in answer.url and answer.ok):
                page.keyboard.press("ArrowUp")
            page.evaluate(_PLAYED)
            page.locator("#play").click()


_READY = """async () => void (await (await import("/static/stand.mjs")).ready)"""
_PLAYED = """() => new Promise((resolve) => {
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (...given) {
    resolve();
    return start.apply(this, given);
  };
  document.getElementById("play").click();
})"""


def _fetched(page, path):
    """The bytes that came over the line for each sound of a page."""
    page.goto(path)
    page.evaluate(_READY)
    return page.evaluate(
        """() => performance.getEntriesByType("resource")
          .filter((each) => each.name.includes("/sound/kit/")).map((each) => each.transferSize)"""
    )


class TestRecording:
    def test_the_microphone_is_recorded_and_answered(self, open_page):
        page = open_page(f"/students/1/takes/new?lesson=1&fill={FILL}&tempo=80")
        page.get_by_role("button", name="Record with the microphone").click()
        expect(page.get_by_role("button", name="Stop")).to_be_visible()
        page.wait_for_url(TAKE, timeout=120_000)
        expect(page.get_by_role("heading", name="Not passed yet")).to_be_visible()
        recording = page.request.get(page.get_by_role("link", name="Download recording").get_attribute("href"))
        with wave.open(io.BytesIO(recording.body())) as file:
            seconds = file.getnframes() / file.getframerate()
            heard = file.readframes(file.getnframes())
        assert 17 < seconds < 25  # a bar of clicks, four bars, half a bar and two seconds at 80
        assert any(heard)

    def test_stop_keeps_nothing(self, open_page):
        page = open_page(f"/students/1/takes/new?lesson=1&fill={FILL}&tempo=80")
        page.keyboard.press("r")
        expect(page.get_by_role("button", name="Stop")).to_be_visible()
        page.keyboard.press("Escape")
        expect(page.locator("#state")).to_have_text("Stopped. Nothing was kept.")
        assert "/takes/new" in page.url

    def test_an_electronic_kit_is_heard_and_answered(self, open_page, midi):
        page = open_page("/")
        seconds, notes = 2.0, []
        for message in mido.MidiFile(file=io.BytesIO(midi)):
            seconds += message.time * 60 / 80  # written at 60, played at 80
            if message.type == "note_on" and message.velocity:
                notes.append((seconds * 1000, message.note, message.velocity))
        page.add_init_script(
            f"""navigator.requestMIDIAccess = async () => {{
              const input = new EventTarget();
              input.addEventListener = (kind, hear) => {{
                const began = performance.now();
                for (const [ms, key, velocity] of {json.dumps(notes)})
                  hear({{ data: [0x99, key, velocity], timeStamp: began + ms }});
              }};
              return {{ inputs: new Map([["kit", input]]) }};
            }};"""
        )
        page.goto(f"/students/1/takes/new?lesson=1&fill={FILL}&tempo=80")
        page.get_by_role("button", name="Record an electronic kit").click()
        page.wait_for_url(TAKE, timeout=120_000)
        expect(page.get_by_role("heading", name="Passed at 80")).to_be_visible()

    def test_without_a_kit_there_is_a_sentence(self, open_page):
        page = open_page("/")
        page.add_init_script("navigator.requestMIDIAccess = async () => ({ inputs: new Map() });")
        page.goto(f"/students/1/takes/new?lesson=1&fill={FILL}&tempo=80")
        page.get_by_role("button", name="Record an electronic kit").click()
        expect(page.locator("#state")).to_have_text("No electronic kit is connected.")

    def test_the_delay_of_the_machine_is_measured_and_remembered(self, open_page):
        page = open_page("/")
        page.add_init_script(LOOP_BACK)
        page.goto(f"/students/1/takes/new?lesson=1&fill={FILL}&tempo=80")
        page.get_by_role("button", name="Measure the delay").click()
        words = page.locator("#delay-words")
        expect(words).to_have_text(re.compile(r"It is \d+ ms\."), timeout=30_000)
        measured = int(re.search(r"\d+", words.inner_text())[0])
        assert 100 <= measured < 400  # the loop's own 100 ms, and what the browser needs
        page.reload()
        expect(words).to_have_text(f"It is {measured} ms.")

    def test_notes_of_an_electronic_kit_become_a_midi_file(self, open_page):
        page = open_page("/")
        written = page.evaluate(
            """async (notes) => [...(await import("/static/takefiles.mjs")).encodeMidi(notes)]""",
            [[0, 38, 100], [250, 36, 90], [251, 42, 1], [20_000, 49, 127]],
        )
        read = mido.MidiFile(file=io.BytesIO(bytes(written)))
        seconds, found = 0.0, []
        for message in read:
            seconds += message.time
            if message.type == "note_on" and message.velocity:
                found.append((round(seconds, 3), message.note, message.velocity, message.channel))
        assert read.type == 0
        assert found == [
            (0.0, 38, 100, 9),
            (pytest.approx(0.25, abs=0.001), 36, 90, 9),
            (pytest.approx(0.251, abs=0.001), 42, 1, 9),
            (pytest.approx(20.0, abs=0.001), 49, 127, 9),
        ]

    def test_samples_become_a_wave_file(self, open_page):
        page = open_page("/")
        written = page.evaluate(
            """async () => [...new Uint8Array((await import("/static/takefiles.mjs"))
              .encodeWave([Float32Array.of(0, 1, -1), Float32Array.of(2, 0.5)], 48000))]"""
        )
        with wave.open(io.BytesIO(bytes(written))) as file:
            assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, 48000)
            samples = memoryview(file.readframes(5)).cast("h").tolist()
        assert samples == [0, 32767, -32767, 32767, 16384]
