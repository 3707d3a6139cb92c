"""A take from the form to its page: measured, refused, waiting, cancelled; no recording is left over."""

from __future__ import annotations

import io
import tempfile
import time
import wave
from pathlib import Path

import pytest

from fillwright import budget
from fillwright.score.export.midi import encode_midi
from fillwright.studio.work.builds import Builds
from fillwright.studio.work.lessons import plan_text
from fillwright.studio.work.queue import WorkQueue
from tests.studio import FILL, LESSON


@pytest.fixture(autouse=True)
def temporary(monkeypatch, tmp_path):
    """The temporary folder; nothing may stay in it."""
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    return folder


def _played():
    planned = plan_text(LESSON)
    return encode_midi(planned.fills[0].phrase, 60.0, title="A take", feel=planned.lesson.feel)


def _write_wave(seconds, rate=8_000):
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(1)
        sound.setframerate(rate)
        sound.writeframes(b"\x80" * round(seconds * rate))
    return file.getvalue()


def _send(browser, school, content):
    fields = {"lesson": str(school.ada.lesson), "fill": FILL, "tempo": "60"}
    parts = [
        f'--x\r\ncontent-disposition: form-data; name="{name}"\r\n\r\n{value}' for name, value in fields.items()
    ]
    head = '--x\r\ncontent-disposition: form-data; name="recording"; filename="a"\r\n\r\n'
    body = "\r\n".join([*parts, head]).encode() + content + b"\r\n--x--\r\n"
    path = f"/students/{school.ada.student}/takes"
    return browser.send_request(
        "POST", path, headers={"content-type": "multipart/form-data; boundary=x"}, body=[body]
    )


def _list_recordings(folder):
    """List what is left in the temporary folder; a cleaned job may need a moment."""
    deadline = time.monotonic() + 10
    while any(folder.iterdir()) and time.monotonic() < deadline:
        time.sleep(0.05)
    return list(folder.rglob("*"))


def test_a_take_is_measured_in_another_process(school, temporary):
    with school.browser("pim") as pim:
        answer = _send(pim, school, _played())
        assert answer.status == 303, answer.text
        page = pim.get(answer.headers["location"]).text
    assert "Passed at 60" in page
    assert _list_recordings(temporary) == []


def _flip(content):
    return content[:60] + bytes(255 - byte for byte in content[60:90]) + content[90:]


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (_write_wave(budget.TAKE_SECONDS + 20), "so cut it down first"),
        (_flip(_played()), "take.mid"),
        (b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0\1\0\1\0\0\x94\x35\x77\0\0\0\0\1\0\x08\0data\0\0\0\0", "take.wav"),
    ],
    ids=["too long", "damaged MIDI", "a rate of 2 GHz"],
)
def test_a_take_that_can_not_be_read_leaves_one_sentence(school, temporary, content, sentence):
    before = school.rows()
    with school.browser("pim") as pim:
        start = time.monotonic()
        answer = _send(pim, school, content)
        assert time.monotonic() - start < 30
    assert answer.status == 422
    alert = answer.text.split('role="alert"', 1)[1].split("</div>", 1)[0]
    assert sentence in alert
    assert alert.count("<p>") == 1
    assert "Traceback" not in answer.text
    assert school.rows() == before
    assert _list_recordings(temporary) == []


def test_past_its_limit_of_time_a_take_ends_with_one_sentence(school, temporary, monkeypatch):
    monkeypatch.setattr(budget, "WORK_SECONDS", 0.01)
    with school.browser("pim") as pim:
        answer = _send(pim, school, _played())
    assert answer.status == 422
    assert "This recording takes longer than 0 seconds to work on" in answer.text
    assert _list_recordings(temporary) == []


def test_a_student_and_a_teacher_have_quotas_of_storage(school, temporary, monkeypatch):
    before = school.rows()
    with school.browser("pim") as pim:
        for name, sentence in (("STUDENT_BYTES", "This student&#39;s"), ("TEACHER_BYTES", "All students&#39;")):
            with monkeypatch.context() as changes:
                changes.setattr(budget, name, 200)
                answer = _send(pim, school, _played())
            assert answer.status == 422
            assert (
                f"{sentence} recordings have 26 bytes together; at most 200 bytes are accepted." in answer.text
            )
    assert school.rows() == before
    assert _list_recordings(temporary) == []


def test_only_so_many_takes_of_a_student_wait(busy, temporary):
    with busy.browser("pim") as pim:
        pages = [
            _send(pim, busy, _played()).headers["location"] for _ in range(budget.PENDING_TAKES_STUDENT - 1)
        ]
        answer = _send(pim, busy, _played())
        assert answer.status == 422
        assert "3 takes of this student wait already" in answer.text
        for page in pages:
            pim.post(f"{page}/cancel")
        assert _send(pim, busy, _played()).status == 303
    busy.setup.queue.close()
    assert _list_recordings(temporary) == []


@pytest.fixture
def busy(schools):
    """A school whose only core is taken; it shows the place in the queue at once."""
    with schools.one(builds=Builds(WorkQueue(cores=1, patience=0.0))) as made:
        yield made


def test_a_take_that_waits_shows_its_place_and_can_be_cancelled(busy, temporary):
    before = busy.rows()
    with busy.browser("pim") as pim:
        first, second = (_send(pim, busy, _played()).headers["location"] for _ in range(2))
        assert "Place in the queue: <b>2</b>" in pim.get(second).text
        assert '"place":2' in pim.get(f"{second}/progress").text
        assert pim.post(f"{first}/cancel").status == 303
        assert "Place in the queue: <b>1</b>" in pim.get(second).text
        assert "This take was cancelled." in pim.get(first).text
        pim.post(f"{second}/cancel")
    with busy.browser("quinn") as quinn:
        assert quinn.get(first).status == 404
    assert busy.rows() == before
    assert _list_recordings(temporary) == []


def test_a_take_that_waited_leads_to_its_page(busy, temporary):
    with busy.browser("pim") as pim:
        page = _send(pim, busy, _played()).headers["location"]
        pim.post(f"/students/{busy.ada.student}/takes/waiting/{busy.ada.job}/cancel")
        deadline = time.monotonic() + 60
        while pim.get(page).status == 200 and time.monotonic() < deadline:
            time.sleep(0.05)
        assert pim.get(page).headers["location"].startswith("/takes/")
    assert _list_recordings(temporary) == []


def test_a_full_queue_folder_is_no_half_take(school, monkeypatch, temporary):
    del temporary
    before = school.rows()

    def fail(_path, _content):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", fail)
    with school.browser("pim") as pim:
        answer = _send(pim, school, _played())
    assert answer.status == 507
    assert "disk of this studio is full" in answer.text
    assert school.rows() == before
