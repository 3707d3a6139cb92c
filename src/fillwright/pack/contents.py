"""The files of a pack, each with its recipe."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill
from fillwright.pack.handout import draw_plan, get_music_mm, has_plan, typeset_handout
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
"""More than a ladder has tempos."""


class Engravings(Mapping[int, Engraving]):
    """The music of each fill, engraved when first needed and then kept."""

    def __init__(self, lesson: Lesson, fills: tuple[LessonFill, ...]) -> None:
        """Take the fills of a lesson; the music is as wide as its page allows."""
        self._lesson = lesson
        self._fills = {fill.number: fill for fill in fills}
        self._engraved: dict[int, Engraving] = {}

    def __getitem__(self, number: int) -> Engraving:
        if number not in self._engraved:
            fill = self._fills[number]
            self._engraved[number] = engrave(fill.sheet, width_mm=get_music_mm(self._lesson, fill))
        return self._engraved[number]

    def __iter__(self) -> Iterator[int]:
        return iter(self._fills)

    def __len__(self) -> int:
        return len(self._fills)


def list_recipes(
    lesson: Lesson, fills: tuple[LessonFill, ...], text: str, *, bank: RecordedBank | None = None
) -> tuple[Recipe, ...]:
    """List the recipes of everything that a pack holds besides its list of contents.

    Args:
        lesson: what is built.
        fills: of the lesson, in order.
        text: the lesson file as the teacher wrote it; a copy goes along.
        bank: recorded sounds to play it on; the modelled kit if left out.
    """
    engravings = Engravings(lesson, fills)
    lesson_fills = (lesson, fills)
    sounding = (*lesson_fills, bank.digest if bank else "")
    listed = [
        _make_recipe("handout.pdf", lesson_fills, lambda: typeset_handout(lesson, fills, engravings)),
        _make_recipe(
            "practice.html", sounding, lambda: build_practice_page(lesson, fills, bank=bank).encode("utf-8")
        ),
        _make_recipe("run-sheet.pdf", lesson_fills, lambda: typeset_run_sheet(lesson, fills)),
        _make_recipe(
            "chapters.txt",
            lesson_fills,
            lambda: format_chapters(plan_demonstrations(fills, count_in=lesson.count_in)).encode("utf-8"),
        ),
        _make_recipe("lesson.toml", (text,), lambda: text.encode("utf-8")),
        _make_fills_recipe(tuple(to_file_fill(lesson, fill) for fill in fills)),
    ]
    for fill in fills:
        listed += _list_fill_recipes(lesson, fill, engravings, bank)
    return tuple(listed)


def name_files(lesson: Lesson, fill: LessonFill) -> dict[str, str]:
    """Return the paths of a fill's files in the pack, by their kind; audio by its tempo in bpm."""
    base = f"fills/{fill.slug}/{fill.slug}"
    names = {kind: f"{base}.{kind}" for kind in ("svg", "pdf", "png", "musicxml", "mid")}
    if has_plan(fill):
        names["plan.svg"] = f"{base}-plan.svg"
    return names | {str(tempo): f"{base}-{tempo:03d}.{lesson.audio}" for tempo in fill.ladder}


def _list_fill_recipes(
    lesson: Lesson, fill: LessonFill, engravings: Engravings, bank: RecordedBank | None
) -> Iterator[Recipe]:
    names = name_files(lesson, fill)
    on_paper = (fill.sheet, lesson.page, fill.title)
    slowest = fill.ladder[0]
    sounds = bank.digest if bank else ""
    yield Recipe(
        paths=(names["svg"], names["pdf"], names["png"]),
        ingredients=on_paper,
        make=partial(_draw_pictures, fill, engravings),
    )
    if has_plan(fill):
        yield _make_recipe(
            names["plan.svg"],
            (fill.step.fill, lesson.hand, lesson.kit),
            lambda: draw_plan(lesson, fill).svg.encode("utf-8"),
        )
    yield _make_recipe(
        names["musicxml"],
        (*on_paper, slowest),
        lambda: format_musicxml(fill.sheet, title=fill.title, tempo=slowest).encode("utf-8"),
    )
    yield _make_recipe(
        names["mid"],
        (fill.phrase, fill.title, lesson.feel, slowest),
        lambda: encode_midi(fill.phrase, slowest, title=fill.title, feel=lesson.feel),
    )
    for tempo in fill.ladder:
        yield Recipe(
            paths=(names[str(tempo)],),
            ingredients=(fill.phrase, tempo, _choose_options(lesson), _make_tags(lesson, fill, tempo), sounds),
            make=partial(_render_audio, lesson, fill, tempo, bank),
            heavy=True,
        )


def _make_fills_recipe(fills: tuple[FileFill, ...]) -> Recipe:
    return _make_recipe(FILLS_FILE, fills, lambda: encode_fills(fills))


def to_file_fill(lesson: Lesson, fill: LessonFill) -> FileFill:
    """Return a fill as `fills.json` holds it, and as a report on a take prints it."""
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


def _make_recipe(path: str, ingredients: tuple[object, ...], make: Callable[[], bytes]) -> Recipe:
    return Recipe(paths=(path,), ingredients=ingredients, make=lambda: (make(),))


def _draw_pictures(fill: LessonFill, engravings: Engravings) -> tuple[bytes, ...]:
    music = engravings[fill.number]
    size = {"width_mm": music.width_mm, "height_mm": music.height_mm}
    return (
        music.svg.encode("utf-8"),
        make_pdf(music.svg, **size, title=fill.title),
        make_png(music.svg, **size),
    )


def _render_audio(lesson: Lesson, fill: LessonFill, tempo: int, bank: RecordedBank | None) -> tuple[bytes, ...]:
    audio = render(fill.phrase, tempo, _choose_options(lesson), bank=bank)
    return (encode_audio(audio, f".{lesson.audio}", tags=_make_tags(lesson, fill, tempo)),)


def _choose_options(lesson: Lesson) -> Options:
    return Options(count_in_bars=lesson.count_in, click=lesson.click, feel=lesson.feel)


def _make_tags(lesson: Lesson, fill: LessonFill, tempo: int) -> Tags:
    """Return the tags that players show.

    The track counts the fill and its tempo, so that adding a tempo does not renumber other fills.
    """
    album = f"{lesson.series} {lesson.number}: {lesson.title}" if lesson.series else lesson.title
    return Tags(
        title=f"{fill.number}. {fill.title}, {tempo}",
        artist=lesson.teacher,
        album=album,
        track=fill.number * _TRACKS_A_FILL + fill.ladder.index(tempo) + 1,
        comment=f"{tempo} beats a minute, {fill.phrase.meter.name}, {fill.step.rhythm.name}",
    )
