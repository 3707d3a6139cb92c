"""The files of a pack, each with its recipe."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill
from fillwright.pack.handout import typeset_handout, has_plan, get_music_mm, draw_plan
from fillwright.pack.phrase_file import FILLS_FILE, FileFill, encode_fills
from fillwright.pack.practice.page import build_practice_page
from fillwright.pack.recipes import Recipe
from fillwright.pack.run_sheet import format_chapters, plan_demonstrations, typeset_run_sheet
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.engraving.paper import make_pdf, make_png
from fillwright.score.export.midi import encode_midi
from fillwright.score.export.musicxml import format_musicxml
from fillwright.sound.files.encode import Tags, encode_audio
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.render import render
from fillwright.sound.samples.recorded_bank import RecordedBank

_TRACKS_A_FILL = 100
"""More than a ladder has rungs."""


class Engravings(Mapping[int, Engraving]):
    """The music of each fill, engraved when first asked for and then kept."""

    def __init__(self, lesson: Lesson, fills: tuple[LessonFill, ...]) -> None:
        """Of these fills, on the measure of the lesson's page."""
        self._lesson = lesson
        self._fills = {fill.number: fill for fill in fills}
        self._made: dict[int, Engraving] = {}

    def __getitem__(self, number: int) -> Engraving:
        if number not in self._made:
            fill = self._fills[number]
            self._made[number] = engrave(fill.sheet, width_mm=get_music_mm(self._lesson, fill))
        return self._made[number]

    def __iter__(self) -> Iterator[int]:
        return iter(self._fills)

    def __len__(self) -> int:
        return len(self._fills)


def list_recipes(
    lesson: Lesson, fills: tuple[LessonFill, ...], text: str, *, bank: RecordedBank | None = None
) -> tuple[Recipe, ...]:
    """Everything a pack holds besides its list of contents.

    Args:
        lesson: what is built.
        fills: of the lesson, in order.
        text: the lesson file as the teacher wrote it; a copy goes along.
        bank: recorded sounds to play it on; the modelled kit if left out.
    """
    engravings = Engravings(lesson, fills)
    whole = (lesson, fills)
    heard = (*whole, bank.digest if bank else "")
    made = [
        _one("handout.pdf", whole, lambda: typeset_handout(lesson, fills, engravings)),
        _one("practice.html", heard, lambda: build_practice_page(lesson, fills, bank=bank).encode("utf-8")),
        _one("run-sheet.pdf", whole, lambda: typeset_run_sheet(lesson, fills)),
        _one(
            "chapters.txt",
            whole,
            lambda: format_chapters(plan_demonstrations(fills, count_in=lesson.count_in)).encode("utf-8"),
        ),
        _one("lesson.toml", (text,), lambda: text.encode("utf-8")),
        _listed(tuple(to_file_fill(lesson, fill) for fill in fills)),
    ]
    for fill in fills:
        made += _fill_recipes(lesson, fill, engravings, bank)
    return tuple(made)


def name_files(lesson: Lesson, fill: LessonFill) -> dict[str, str]:
    """Where the files of a fill lie in the pack, by what they are; audio by its tempo."""
    base = f"fills/{fill.slug}/{fill.slug}"
    names = {kind: f"{base}.{kind}" for kind in ("svg", "pdf", "png", "musicxml", "mid")}
    if has_plan(fill):
        names["plan.svg"] = f"{base}-plan.svg"
    return names | {str(tempo): f"{base}-{tempo:03d}.{lesson.audio}" for tempo in fill.ladder}


def _fill_recipes(
    lesson: Lesson, fill: LessonFill, engravings: Engravings, bank: RecordedBank | None
) -> Iterator[Recipe]:
    names = name_files(lesson, fill)
    on_paper = (fill.sheet, lesson.page, fill.title)
    slowest = fill.ladder[0]
    sounds = bank.digest if bank else ""
    yield Recipe(
        paths=(names["svg"], names["pdf"], names["png"]),
        ingredients=on_paper,
        make=partial(_pictures, fill, engravings),
    )
    if has_plan(fill):
        yield _one(
            names["plan.svg"],
            (fill.step.fill, lesson.hand, lesson.kit),
            lambda: draw_plan(lesson, fill).svg.encode("utf-8"),
        )
    yield _one(
        names["musicxml"],
        (*on_paper, slowest),
        lambda: format_musicxml(fill.sheet, title=fill.title, tempo=slowest).encode("utf-8"),
    )
    yield _one(
        names["mid"],
        (fill.phrase, fill.title, lesson.feel, slowest),
        lambda: encode_midi(fill.phrase, slowest, title=fill.title, feel=lesson.feel),
    )
    for tempo in fill.ladder:
        yield Recipe(
            paths=(names[str(tempo)],),
            ingredients=(fill.phrase, tempo, _played(lesson), _tags(lesson, fill, tempo), sounds),
            make=partial(_audio, lesson, fill, tempo, bank),
            heavy=True,
        )


def _listed(fills: tuple[FileFill, ...]) -> Recipe:
    return _one(FILLS_FILE, fills, lambda: encode_fills(fills))


def to_file_fill(lesson: Lesson, fill: LessonFill) -> FileFill:
    """A fill as programs read it, and as a report on a take prints it."""
    return FileFill(
        number=fill.number,
        slug=fill.slug,
        title=fill.title,
        caption=fill.caption,
        tempos=fill.ladder,
        feel=lesson.feel,
        phrase=fill.phrase,
        cue=fill.sheet.cue,
        counting=fill.sheet.counting,
        short_rolls=fill.sheet.short_rolls,
        page=lesson.page,
    )


def _one(path: str, ingredients: tuple[object, ...], make: Callable[[], bytes]) -> Recipe:
    return Recipe(paths=(path,), ingredients=ingredients, make=lambda: (make(),))


def _pictures(fill: LessonFill, engravings: Engravings) -> tuple[bytes, ...]:
    music = engravings[fill.number]
    size = {"width_mm": music.width_mm, "height_mm": music.height_mm}
    return (
        music.svg.encode("utf-8"),
        make_pdf(music.svg, **size, title=fill.title),
        make_png(music.svg, **size),
    )


def _audio(lesson: Lesson, fill: LessonFill, tempo: int, bank: RecordedBank | None) -> tuple[bytes, ...]:
    audio = render(fill.phrase, tempo, _played(lesson), bank=bank)
    return (encode_audio(audio, f".{lesson.audio}", tags=_tags(lesson, fill, tempo)),)


def _played(lesson: Lesson) -> Options:
    return Options(count_in_bars=lesson.count_in, click=lesson.click, feel=lesson.feel)


def _tags(lesson: Lesson, fill: LessonFill, tempo: int) -> Tags:
    """What players show; the track is the fill's number and the rung's, so that fills don't renumber others."""
    album = f"{lesson.series} {lesson.number}: {lesson.title}" if lesson.series else lesson.title
    return Tags(
        title=f"{fill.number}. {fill.title}, {tempo}",
        artist=lesson.teacher,
        album=album,
        track=fill.number * _TRACKS_A_FILL + fill.ladder.index(tempo) + 1,
        comment=f"{tempo} beats a minute, {fill.phrase.meter.name}, {fill.step.rhythm.name}",
    )
