"""The practice page in a browser: what it plays, where its cursor is, what its controls do, how it looks."""

import base64
import json
import math
import shutil
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from fillwright.music.phrase import Part
from fillwright.music.timing import time_phrase, whole_note_seconds
from fillwright.sound.playalong.clicks import list_count_in_places
from fillwright.sound.playalong.mix import find_chokes
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.render import render
from fillwright.sound.playalong.strikes import list_strikes
from tests.needs import need

CHROMIUM = shutil.which("chromium") or ""
RATE = 44100
PHONE, TABLET, DESK = (360, 740), (768, 1024), (1280, 860)

STRIKES = """([number, tempo, repetitions, silent]) => {
  const context = new OfflineAudioContext(2, 1, 44100);
  const dumb = { pick: () => ({ buffer: context.createBuffer(1, 1, 44100), level: 1 }) };
  const player = new practice.Player(context, dumb, practice.fills[number - 1], practice.data.rules);
  const heard = [];
  player.onStrike = (...strike) => heard.push(strike);
  Object.assign(player, { tempo, repetitions, silent });
  player.start({ countInBars: 1, at: 0 });
  player.pump(Infinity);
  return heard;
}"""

RENDERED = """async ([number, tempo, repetitions, seconds]) => {
  const context = new OfflineAudioContext(2, Math.ceil(seconds * 44100), 44100);
  const recording = await context.decodeAudioData(practice.recording());
  const bank = new practice.Bank(context, recording, practice.data.packed);
  const player = new practice.Player(context, bank, practice.fills[number - 1], practice.data.rules);
  Object.assign(player, { tempo, repetitions });
  player.setClick(0);
  player.start({ countInBars: 1, at: 0 });
  player.pump(Infinity);
  const made = await context.startRendering();
  const both = new Float32Array(2 * made.length);
  for (let i = 0; i < made.length; i++) for (const side of [0, 1]) {
    both[2 * i + side] = made.getChannelData(side)[i];
  }
  let text = "";
  const bytes = new Uint8Array(both.buffer);
  for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  return btoa(text);
}"""


@pytest.fixture(scope="module")
def browser():
    need(CHROMIUM, "Chromium, from the Debian package chromium")
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        arguments = ["--no-sandbox", "--disable-gpu", "--autoplay-policy=no-user-gesture-required"]
        made = playwright.chromium.launch(executable_path=CHROMIUM, args=arguments)
        yield made
        made.close()


@pytest.fixture
def open_page(browser):
    """Opens a page offline, in a browser that remembers nothing; what goes wrong there fails the test."""
    contexts, wrong = [], []

    def opened(path: Path, size=DESK, **options):
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, offline=True, service_workers="block", **options
        )
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
        asked = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(path.as_uri())
        page.wait_for_selector("#music svg")
        assert [url for url in asked if not url.startswith(("data:", path.as_uri()))] == []
        return page

    yield opened
    for context in contexts:
        context.close()
    assert wrong == []


def until(page, script, seconds=20.0):
    """What a script gives as soon as it is true; the page's own policy forbids scripts that wait in it."""
    for _ in range(round(seconds * 20)):
        found = page.evaluate(script)
        if found:
            return found
        page.wait_for_timeout(50)
    pytest.fail(f"{script} did not come true within {seconds} s")
    return None


def count_in(fill, tempo):
    """Length of a bar of count-in, and where it clicks."""
    whole = whole_note_seconds(fill.phrase.meter, tempo)
    return float(fill.phrase.meter.bar) * whole, [
        float(at) * whole for at in list_count_in_places(fill.phrase.meter, Options())
    ]


def strokes_of(heard):
    """What is heard but clicks, in time order."""
    return sorted(((at, name, velocity) for name, at, velocity in heard if "click" not in name))


def played_three_times(phrase):
    """A phrase with its body written out three times, the landing once at the end."""
    return replace(phrase, bars=phrase.bars[:-1] * 3 + phrase.bars[-1:])


class TestWhatIsPlayed:
    @pytest.mark.parametrize("tempo", [20, 60, 97, 180, 400])
    def test_every_sound_is_the_mixs_own(self, practice, open_page, tempo):
        page = open_page(practice.path)
        for fill in practice.fills:
            bar, clicks = count_in(fill, tempo)
            heard = page.evaluate(STRIKES, [fill.number, tempo, 1, False])
            expected = sorted(
                (each.onset_seconds, each.name, each.velocity)
                for each in list_strikes(time_phrase(fill.phrase, tempo, practice.lesson.feel), bar)
            )
            found = strokes_of(heard)
            assert [each[1:] for each in found] == [each[1:] for each in expected]
            assert [each[0] for each in found] == pytest.approx([each[0] for each in expected], abs=1e-6)
            counted = sorted(at for name, at, _ in heard if "click" in name and at < bar - 1e-6)
            assert counted == pytest.approx(clicks)

    @pytest.mark.parametrize("tempo", [60, 180])
    def test_the_click_falls_on_every_beat_up_to_the_landing(self, practice, open_page, tempo):
        page = open_page(practice.path)
        for fill in practice.fills:
            bar, _ = count_in(fill, tempo)
            whole = whole_note_seconds(fill.phrase.meter, tempo)
            bars = sum(each.part is not Part.LANDING for each in fill.phrase.bars)
            beats = [
                bar + float(number * fill.phrase.meter.bar + at) * whole
                for number in range(bars)
                for at in fill.phrase.meter.beat_starts
            ]
            heard = page.evaluate(STRIKES, [fill.number, tempo, 1, False])
            after = sorted(at for name, at, _ in heard if "click" in name and at > bar - 1e-6)
            assert after == pytest.approx([*beats, bar * (bars + 1)])

    def test_a_loop_repeats_exactly_and_lands_on_the_next_beat_one(self, practice, open_page):
        page = open_page(practice.path)
        for fill in practice.fills:
            heard = strokes_of(page.evaluate(STRIKES, [fill.number, 90, 3, False]))
            bar, _ = count_in(fill, 90)
            body = bar * sum(each.part is not Part.LANDING for each in fill.phrase.bars)
            timed = list_strikes(time_phrase(played_three_times(fill.phrase), 90, practice.lesson.feel), bar)
            turns = [bar + body, bar + 2 * body]

            def between(found, turns=turns):
                """What lies off the first beats of the later passes."""
                return [each for each in found if all(abs(each[0] - turn) > 0.1 for turn in turns)]

            expected = between(sorted((each.onset_seconds, each.name, each.velocity) for each in timed))
            found = between(heard)
            assert [each[1:] for each in found] == [each[1:] for each in expected]
            assert [each[0] for each in found] == pytest.approx([each[0] for each in expected], abs=1e-6)
            landed = {hit.surface.name for hit in fill.phrase.bars[-1].hits}
            for turn in turns:
                names = [name for at, name, _ in heard if abs(at - turn) < 1e-6]
                assert landed <= set(names)
                assert len(names) == len(set(names))

    def test_a_fill_left_to_the_student_is_silent_and_its_landing_is_not(self, practice, open_page):
        page = open_page(practice.path)
        for fill in practice.fills:
            bar, _ = count_in(fill, 90)
            whole = whole_note_seconds(fill.phrase.meter, 90)
            heard = strokes_of(page.evaluate(STRIKES, [fill.number, 90, 1, True]))
            timed = time_phrase(fill.phrase, 90, practice.lesson.feel)
            kept = [one for one in timed if not fill.phrase.is_in_fill(one.hit.at)]
            assert [at for at, *_ in heard] == pytest.approx(
                [each.onset_seconds for each in list_strikes(kept, bar)]
            )
            assert heard[-1][0] == pytest.approx(bar + float(fill.phrase.span.end) * whole)

    @pytest.mark.parametrize("tempo", [60, 180])
    def test_what_is_heard_starts_where_it_is_written(self, ticking, open_page, ear, tempo):
        """The page's own graph, rendered; the ear knows only samples."""
        page = open_page(ticking.path)
        for fill in ticking.fills:
            bar, _ = count_in(fill, tempo)
            timed = time_phrase(fill.phrase, tempo, ticking.lesson.feel)
            seconds = bar + timed[-1].onset_seconds + 0.5
            text = page.evaluate(RENDERED, [fill.number, tempo, 1, seconds])
            samples = np.frombuffer(base64.b64decode(text), np.float32).reshape(-1, 2)
            heard = ear(samples, RATE)
            for one in timed:
                off, growth = heard.nearest(bar + one.onset_seconds)
                assert abs(off) <= 0.001, (fill.slug, tempo, one.onset_seconds, off)
                assert growth >= 3.0
            last = bar + timed[-1].onset_seconds
            assert np.abs(samples[round((last + 0.2) * RATE) :]).max() < 0.001
            assert np.abs(samples).max() <= 1.0

    def test_it_is_as_loud_as_the_play_along(self, practice, open_page):
        """Variations are other ones, so levels are compared second by second."""
        page = open_page(practice.path)
        for fill in practice.fills:
            made = render(fill.phrase, 90, Options(feel=practice.lesson.feel)).samples
            text = page.evaluate(RENDERED, [fill.number, 90, 1, len(made) / RATE])
            found = np.frombuffer(base64.b64decode(text), np.float32).reshape(-1, 2)
            start = round(count_in(fill, 90)[0] * RATE)
            for first in range(start, len(made) - 2 * RATE, RATE):
                ours, theirs = (np.sqrt(np.mean(each[first : first + RATE] ** 2)) for each in (found, made))
                assert abs(20 * np.log10(ours / theirs)) <= 2.0, (fill.slug, first / RATE)

    def test_an_open_hi_hat_is_choked_as_in_the_mix(self, practice, open_page):
        fill = practice.fills[0]
        assert fill.groove == "off-beat open hi-hat"
        played = list_strikes(time_phrase(fill.phrase, 90, practice.lesson.feel), 1.0)
        places = [round(strike.onset_seconds * RATE) for strike in played]
        expected = sorted(set(find_chokes(played, places, None).values()))
        page = open_page(practice.path)
        stops = page.evaluate(
            """([number, tempo]) => {
              const context = new OfflineAudioContext(2, 1, 44100);
              const dumb = { pick: () => ({ buffer: context.createBuffer(1, 1, 44100), level: 1 }) };
              const fill = practice.fills[number - 1];
              const player = new practice.Player(context, dumb, fill, practice.data.rules);
              const stops = [];
              const real = AudioParam.prototype.setValueCurveAtTime;
              AudioParam.prototype.setValueCurveAtTime = function (curve, at, length) {
                stops.push(at);
                return real.call(this, curve, at, length);
              };
              Object.assign(player, { tempo, repetitions: 1 });
              player.start({ countInBars: 0, at: 1 });
              player.pump(Infinity);
              AudioParam.prototype.setValueCurveAtTime = real;
              return stops;
            }""",
            [fill.number, 90],
        )
        assert sorted(round(at * RATE) for at in stops) == expected


PLACE = "practice.player?.where(practice.heardTime(practice.player.context))?.place"

CURSOR = """() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => {
  const player = practice.player;
  const group = document.querySelector(".cursor");
  if (!player || group.getAttribute("visibility") === "hidden") return done(null);
  const { context } = player;
  const shown = group.getAttribute("transform").match(/[-\\d.]+/)[0];
  done([Number(shown), Number(group.querySelector("line").getAttribute("y1")), context.currentTime,
        context.outputLatency, player.run.anchors[0].time, player.run.anchors[0].place]);
})))"""


class TestTheCursor:
    @pytest.mark.parametrize("tempo", [60, 180])
    def test_it_stands_where_the_sound_is(self, practice, open_page, tempo):
        """Read back from the drawing: its place in the music against the clock that the sound goes by."""
        page = open_page(practice.path)
        fill = practice.fills[-1]
        page.evaluate(f"location.hash = ''; document.querySelectorAll('.stair')[{fill.number - 1}].click()")
        page.evaluate(
            f"[...document.querySelectorAll('#rungs button')].find(b => b.textContent == '{tempo}').click()"
        )
        page.keyboard.press("Space")
        until(
            page,
            f"{PLACE} > 0.2",
        )
        data = page.evaluate("practice.fills.at(-1)")
        whole = whole_note_seconds(fill.phrase.meter, tempo)
        offs = []
        for _ in range(60):
            found = page.evaluate(CURSOR)
            x, top, now, latency, start, place = found
            heard = (place + (now - latency - start) / whole) % data["body"]
            line = next(each for each in data["wide"]["lines"] if each["top"] == top)
            moments, places = line["points"][::2], line["points"][1::2]
            shown = float(np.interp(x, places, moments))
            off = (shown - heard) * whole
            offs.append(off)
            page.wait_for_timeout(20)
        wrapped = [off for off in offs if abs(off) < 0.5]  # but at the turn of the loop
        assert len(wrapped) > 40
        assert np.median(np.abs(wrapped)) <= 0.010
        assert abs(np.median(wrapped)) <= 0.010

    def test_it_crosses_every_bar_and_line_without_a_step_back(self, practice, open_page):
        page = open_page(practice.path)
        for kind in ("wide", "narrow"):
            for data in page.evaluate("practice.fills"):
                lines = data[kind]["lines"]
                for line in lines:
                    moments, places = line["points"][::2], line["points"][1::2]
                    assert all(a < b for a, b in pairwise(moments))
                    assert all(a <= b for a, b in pairwise(places))
                for before, after in pairwise(lines):
                    assert before["points"][-2] == pytest.approx(after["points"][0])
                    assert before["bottom"] < after["bottom"]
                assert lines[0]["points"][0] == 0
                assert lines[-1]["points"][-2] == pytest.approx(data["body"] + data["bar"])

    def test_with_reduced_motion_it_rests_on_beats(self, practice, open_page):
        page = open_page(practice.path, reduced_motion="reduce")
        page.keyboard.press("Space")
        until(
            page,
            f"{PLACE} > 0",
        )
        data = page.evaluate("practice.fills[0]")
        standing = page.evaluate(
            "practice.fills[0].beats.concat(practice.fills[0].beats.map((b) => b + practice.fills[0].bar))"
            ".map((b) => practice.findPosition(practice.fills[0].wide.lines, b).x.toFixed(1))"
        )
        assert len(standing) == 2 * len(data["beats"])
        for _ in range(30):
            found = page.evaluate(CURSOR)
            assert f"{found[0]:.1f}" in standing
            page.wait_for_timeout(30)


def text(page, selector):
    return page.inner_text(selector)


class TestControls:
    def test_play_and_pause_by_key_and_hand(self, practice, open_page):
        page = open_page(practice.path)
        page.keyboard.press("Space")
        until(page, "practice.player !== null")
        assert "Pause" in text(page, "#play")
        until(page, f"{PLACE} > 1.1")
        page.click("#play")
        assert page.evaluate("practice.player") is None
        assert text(page, "#state") == "Paused in bar 2. Play continues from there."
        page.keyboard.press("Space")
        until(page, "practice.player !== null")
        assert page.evaluate("practice.player.run.from") == 1
        page.keyboard.press("0")
        until(page, "practice.player?.run.from === 0")
        page.keyboard.press("Space")
        assert "Play" in text(page, "#play")

    def test_it_ends_by_itself_where_it_does_not_loop(self, practice, open_page):
        page = open_page(practice.path)
        page.keyboard.press("l")
        page.keyboard.press("i")
        page.keyboard.press("i")
        page.keyboard.press("3")
        page.keyboard.press("Space")
        until(page, "practice.player !== null")
        until(page, "practice.player === null")
        assert "Play" in text(page, "#play")

    def test_tempo(self, practice, open_page):
        page = open_page(practice.path)
        assert "60" in text(page, "#tempo")
        page.click("#faster")
        page.keyboard.press("ArrowUp")
        assert "62" in text(page, "#tempo")
        page.click("#slower")
        page.keyboard.press("ArrowDown")
        assert "60" in text(page, "#tempo")
        page.keyboard.press("3")
        assert "180" in text(page, "#tempo")
        page.click("#rungs button >> nth=1")
        assert "90" in text(page, "#tempo")
        pressed = page.eval_on_selector_all(
            "#rungs button", "all => all.map(b => b.getAttribute('aria-pressed'))"
        )
        assert pressed == ["false", "true", "false"]

    def test_a_tempo_changed_while_playing_goes_on_from_where_it_is(self, practice, open_page):
        page = open_page(practice.path)
        page.keyboard.press("Space")
        until(
            page,
            f"{PLACE} > 0",
        )
        before = page.evaluate(PLACE)
        page.keyboard.press("3")
        after = page.evaluate(PLACE)
        assert 0 <= after - before < 0.4
        assert page.evaluate("practice.player.run.anchors.length") == 2

    def test_tempos_are_marked_as_passed(self, practice, open_page):
        page = open_page(practice.path)
        page.check("#rungs input >> nth=1")
        page.keyboard.press("t")
        assert text(page, "#state") == "60 bpm passed."
        assert page.locator(".stair >> nth=0").locator("i.on").count() == 2
        assert "2 of 3 tempos passed" in page.get_attribute(".stair >> nth=0", "aria-label")
        page.keyboard.press("t")
        assert text(page, "#state") == "60 bpm is not passed any more."
        page.keyboard.press("ArrowUp")
        page.keyboard.press("t")
        assert text(page, "#state") == "61 bpm is not on the tempo ladder of this fill."

    def test_switches(self, practice, open_page):
        page = open_page(practice.path)
        page.keyboard.press("Space")
        until(page, "practice.player !== null")
        assert page.is_checked("#loop")
        page.keyboard.press("l")
        page.keyboard.press("f")
        assert not page.is_checked("#loop")
        assert page.is_checked("#silent")
        assert page.evaluate("[practice.player.repetitions, practice.player.silent]") == [1, True]
        page.click("label:has(#loop)")
        assert page.evaluate("practice.player.repetitions") is None or page.is_checked("#loop")
        words = []
        for _ in range(5):
            page.keyboard.press("c")
            words.append((text(page, "#click-word"), page.evaluate("practice.player.clickLevel")))
        assert words == [("strong", 2), ("loud", 4), ("off", 0), ("soft", 0.5), ("even", 1)]
        page.fill("#click", "4")
        assert text(page, "#click-word") == "loud"
        counts = []
        for _ in range(3):
            page.keyboard.press("i")
            counts.append(text(page, "#count-word"))
        assert counts == ["2 bars", "none", "1 bar"]
        page.fill("#count", "2")
        assert text(page, "#count-word") == "2 bars"

    def test_steps(self, practice, open_page):
        page = open_page(practice.path)
        last = len(practice.fills)
        assert page.is_disabled("#back")
        page.click("#next")
        page.keyboard.press("ArrowRight")
        assert (text(page, "#number"), text(page, "#caption")) == ("3", practice.fills[2].caption)
        page.keyboard.press("ArrowLeft")
        assert text(page, "#number") == "2"
        page.click(f".stair >> nth={last - 1}")
        assert text(page, "#number") == str(last)
        assert page.is_disabled("#next")
        assert page.get_attribute(f".stair >> nth={last - 1}", "aria-current") == "step"
        page.keyboard.press("Space")
        until(page, "practice.player !== null")
        page.click("#back")
        assert page.evaluate("practice.player") is None

    def test_the_practice_clock_asks_for_a_rest(self, practice, open_page):
        page = open_page(practice.path)
        page.clock.install()
        page.reload()
        page.wait_for_selector("#music svg")
        page.keyboard.press("r")
        page.clock.run_for(24 * 60 * 1000)
        assert text(page, "#rest") == ""
        page.clock.run_for(2 * 60 * 1000)
        assert "rest for five" in text(page, "#rest")
        assert text(page, "#stretch") in ("25:59", "26:00")
        page.click("#clock")
        page.clock.run_for(6 * 60 * 1000)
        page.click("#clock")
        page.clock.run_for(1000)
        assert text(page, "#stretch") in ("0:00", "0:01")
        assert text(page, "#today") in ("25:59", "26:00", "26:01")
        assert text(page, "#rest") == ""

    def test_every_shortcut_is_listed_and_every_button_has_a_name(self, practice, open_page):
        page = open_page(practice.path)
        keys = text(page, ".keys").split("\n")
        for key in ("space", "0", "← →", "↑ ↓", "1 to 9", "T", "L", "F", "C", "I", "R", "P", "A", "Esc"):
            assert key in keys
        for button in page.query_selector_all("button"):
            assert button.inner_text().strip() or button.get_attribute("aria-label"), button.get_attribute("id")

    @pytest.mark.parametrize("size", [PHONE, DESK])
    @pytest.mark.parametrize("name", ["grade", "ceiling", "ladder"])
    def test_a_word_is_explained_by_a_tap_and_hidden_by_escape(self, practice, open_page, size, name):
        page = open_page(practice.path, size, has_touch=True)
        button, tip = f"[aria-describedby=about-{name}]", f"#about-{name}"
        assert not page.is_visible(tip)
        page.tap(button)
        assert page.is_visible(tip)
        box = page.locator(tip).bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= size[0]
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        page.keyboard.press("Escape")
        assert not page.is_visible(tip)

    def test_a_word_is_explained_where_the_mouse_or_the_keyboard_is(self, practice, open_page):
        page = open_page(practice.path)
        page.hover("[aria-describedby=about-grade]")
        assert page.is_visible("#about-grade")
        page.hover("#about-grade")
        assert page.is_visible("#about-grade")
        page.mouse.move(5, 5)
        assert not page.is_visible("#about-grade")
        page.focus("[aria-describedby=about-ceiling]")
        assert page.is_visible("#about-ceiling")

    def test_space_on_a_button_reached_by_tab_presses_that_button(self, practice, open_page):
        page = open_page(practice.path)
        page.focus("#faster")
        page.keyboard.press("Space")
        assert "61" in text(page, "#tempo")
        assert page.evaluate("practice.player") is None

    def test_a_browser_that_cant_run_it_shows_why(self, practice, browser, tmp_path):
        old = tmp_path / "old.html"
        html = practice.path.read_text("utf-8")
        old.write_text(html.replace("// Modules: sha256", "?? unknown syntax\n", 1), "utf-8")
        page = browser.new_page()
        page.goto(old.as_uri())
        page.wait_for_timeout(3200)
        assert "too old to play" in text(page, "#state")
        page.close()


def reload_with(page, kept):
    """Load the page again in a browser that keeps this text; the page that goes would write its own over it."""
    key = page.evaluate("practice.data.id")
    page.add_init_script(f"localStorage.setItem({json.dumps(key)}, {json.dumps(kept)})")
    page.reload()
    page.wait_for_selector("#music svg")


class TestMemory:
    def test_what_the_student_did_is_there_after_a_reload(self, practice, open_page):
        page = open_page(practice.path)
        page.click(".stair >> nth=2")
        page.keyboard.press("2")
        page.keyboard.press("ArrowUp")
        page.check("#rungs input >> nth=1")
        page.keyboard.press("f")
        page.keyboard.press("c")
        page.reload()
        page.wait_for_selector("#music svg")
        assert text(page, "#number") == "3"
        assert "91" in text(page, "#tempo")
        assert page.is_checked("#rungs input >> nth=1")
        assert page.is_checked("#silent")
        assert text(page, "#click-word") == "strong"
        assert page.locator(".stair >> nth=2").locator("i.on").count() == 1

    def test_what_a_page_of_the_first_version_kept_is_there(self, practice, open_page):
        page = open_page(practice.path)
        slug = practice.fills[1].slug
        kept = {
            **{"at": slug, "tempos": {slug: 91}, "reached": {slug: [60, 90]}, "loop": False, "silent": True},
            **{"click": 3, "count": 2, "day": "2024-05-01", "seconds": 300},
        }
        reload_with(page, json.dumps(kept))
        assert (text(page, "#number"), text(page, "#tempo")) == ("2", "= 91")
        assert page.locator(".stair >> nth=1").locator("i.on").count() == 2
        assert (page.is_checked("#loop"), page.is_checked("#silent")) == (False, True)
        assert (text(page, "#click-word"), text(page, "#count-word")) == ("strong", "2 bars")

    @pytest.mark.parametrize("kept", ["{", "null", '{"tempos": 3, "click": 99, "count": "x", "at": "gone"}'])
    def test_unreadable_settings_are_left_aside(self, practice, open_page, kept):
        page = open_page(practice.path)
        reload_with(page, kept)
        assert (text(page, "#number"), text(page, "#click-word"), text(page, "#count-word")) == (
            "1",
            "even",
            "1 bar",
        )

    def test_tempos_and_ticks_that_cant_be_read_are_left_aside(self, practice, open_page):
        page = open_page(practice.path)
        slug = practice.fills[0].slug
        kept = json.dumps({"tempos": {slug: "fast"}, "reached": {slug: 60}})
        reload_with(page, kept)
        assert "60" in text(page, "#tempo")
        page.keyboard.press("t")
        assert text(page, "#state") == "60 bpm passed."

    def test_it_works_where_nothing_may_be_kept(self, practice, open_page):
        page = open_page(practice.path)
        page.add_init_script(
            "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('no'); } })"
        )
        page.reload()
        page.wait_for_selector("#music svg")
        page.keyboard.press("ArrowRight")
        page.keyboard.press("t")
        assert text(page, "#state") == "60 bpm passed."


SHIFTS = """() => new Promise((done) => {
  let sum = 0;
  new PerformanceObserver((list) => { for (const each of list.getEntries()) sum += each.value; })
    .observe({ type: "layout-shift", buffered: true });
  setTimeout(() => done(sum), 600);
})"""


class TestLooks:
    @pytest.mark.parametrize("which", ["practice", "demo"])
    @pytest.mark.parametrize("size", [PHONE, TABLET, DESK])
    @pytest.mark.parametrize("scheme", ["light", "dark"])
    def test_nothing_is_hard_to_reach_or_to_read(self, request, open_page, which, size, scheme):
        axe = pytest.importorskip("axe_playwright_python.sync_playwright")
        page = open_page(page_of(request, which), size, color_scheme=scheme)
        found = axe.Axe().run(page).response["violations"]
        assert [(each["id"], [node["html"][:120] for node in each["nodes"]]) for each in found] == []

    @pytest.mark.parametrize("which", ["practice", "demo"])
    @pytest.mark.parametrize("size", [PHONE, TABLET, DESK])
    def test_nothing_shifts_and_nothing_sticks_out(self, request, open_page, which, size):
        page = open_page(page_of(request, which), size)
        assert page.evaluate(SHIFTS) == 0
        for number in range(len(page.evaluate("practice.fills.map((each) => each.slug)"))):
            if number:
                page.keyboard.press("ArrowRight")
            assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
            box, music = (page.locator(each).bounding_box() for each in ("#music", "#music svg"))
            assert music["height"] <= box["height"] + 1

    @pytest.mark.parametrize("size", [PHONE, TABLET])
    def test_what_is_touched_is_large_enough(self, practice, open_page, size):
        page = open_page(practice.path, size, has_touch=True, is_mobile=True)
        boxes = page.eval_on_selector_all(
            "button, label, input[type=range]",
            "all => all.map(e => [e.id || e.className || e.textContent, e.getBoundingClientRect().toJSON()])",
        )
        small = [name for name, box in boxes if box["width"] < 44 or box["height"] < 44]
        assert small == []

    def test_a_phone_has_larger_notes_than_a_desk_drawing_would_have_there(self, practice, open_page):
        page = open_page(practice.path, PHONE)
        drawn = page.eval_on_selector(
            "#music svg", "svg => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width"
        )
        staff_space = drawn * 50
        assert staff_space >= 5.5
        page.set_viewport_size({"width": 740, "height": 360})
        until(
            page, "document.querySelector('#music svg').viewBox.baseVal.width === practice.fills[0].wide.width"
        )

    @pytest.mark.parametrize("everything", [False, True])
    def test_it_prints_music_and_no_controls(self, practice, open_page, everything):
        page = open_page(practice.path)
        page.evaluate("window.print = () => dispatchEvent(new Event('beforeprint'))")
        page.emulate_media(media="print", color_scheme="dark")
        page.keyboard.press("a" if everything else "p")
        for selector in ("nav", ".bar", ".desk", ".walk", "footer"):
            assert not page.is_visible(selector)
        shown = page.eval_on_selector_all("svg", "all => all.filter(e => e.getClientRects().length).length")
        assert page.is_visible("main") is not everything
        assert shown == (len(practice.fills) if everything else 1) + 1  # and the hidden one with the signs
        assert (
            page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        )
        page.evaluate("dispatchEvent(new Event('afterprint'))")
        assert page.is_visible("main")


def page_of(request, which):
    made = request.getfixturevalue(which)
    return made.path if which == "practice" else made.folder / "practice.html"


def test_the_demo_page_holds_every_fill_and_is_light_enough_to_send(demo):
    path = demo.folder / "practice.html"
    html = path.read_text("utf-8")
    data = json.loads(html.split('id="data">')[1].split("</script>")[0])
    assert [each["slug"] for each in data["fills"]] == [fill.slug for fill in demo.fills]
    assert path.stat().st_size < 3_000_000
    assert math.isfinite(data["fills"][0]["strokes"][0][0])
