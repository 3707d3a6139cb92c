"""A sheet: a phrase and the words around it, ready to engrave."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from fillwright.music.counting import name_counts
from fillwright.music.phrase import Phrase
from fillwright.music.sticking import format_slot
from fillwright.score.transcribe import transcribe
from fillwright.score.written import Note, WrittenBar

FOOT_LETTER = "K"
"""Letter in a sticking where the kick replaces a hand (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A phrase and the words around it.

    Attributes:
        phrase: the music.
        tempo: words after the beat note above the first bar, "60–100"; "" for none.
        label: words above the first stroke of the fill; "" for none.
        sticking: True for hands below the fill and the landing.
        counting: True for the counting line below them.
        cue: the figure's own spoken words, one per stroke of the fill; empty to count.
        short_rolls: True to abbreviate rolls.
        from_bar: the first bar to engrave, from 1, so that a line may show the fill alone.
        break_before: numbers of the bars that start a new line.
        closing: the bar line at the end: "end" or "single".
        sparsely: True to count beats and their halves alone; the figure's own words stay.
        repeats: True to write a bar of groove like the one before as a sign.
    """

    phrase: Phrase
    tempo: str = ""
    label: str = ""
    sticking: bool = True
    counting: bool = True
    cue: tuple[str, ...] = ()
    short_rolls: bool = False
    from_bar: int = 1
    break_before: tuple[int, ...] = ()
    closing: str = "end"
    sparsely: bool = False
    repeats: bool = True
    _bars: list[WrittenBar] = field(default_factory=list, init=False, repr=False, compare=False)
    _taught: dict[int, tuple[Note, ...]] = field(default_factory=dict, init=False, repr=False, compare=False)

    def bars(self) -> tuple[WrittenBar, ...]:
        """Return the bars as written, from the first one engraved."""
        if not self._bars:
            self._bars.extend(transcribe(self.phrase, short_rolls=self.short_rolls))
        return tuple(self._bars[self.from_bar - 1 :])

    def break_lines(self, before: tuple[int, ...]) -> Sheet:
        """Return the same sheet with a new line before some bars."""
        return self._change_layout(break_before=before)

    def thin_counts(self) -> Sheet:
        """Return the same sheet with counts on beats and their halves alone, where room is short."""
        return self._change_layout(sparsely=True)

    def _change_layout(self, **changes: Any) -> Sheet:
        """Return the same sheet with another layout; bars that are written already are kept."""
        sheet = replace(self, **changes)
        sheet._bars.extend(self._bars)
        return sheet

    def is_repeat(self, bar: WrittenBar) -> bool:
        """Return True if a bar is a sign that repeats the bar before."""
        return self.repeats and bar.repeats and bar.number != self.from_bar

    def is_taught(self, bar: WrittenBar, note: Note) -> bool:
        """Return True if a note belongs to what is taught, the fill or the landing, and so has words below."""
        span = self.phrase.span
        at = (bar.number - 1) * self.phrase.meter.bar + note.at
        return span is None or at >= span.start

    def stickings(self) -> Iterator[tuple[Note, str]]:
        """Yield each note of the fill and the landing with its hand letter; K where the foot plays instead."""
        if not self.sticking:
            return
        for bar in self.bars():
            for note in self.select_taught(bar):
                yield note, spell_hands(note)

    def select_taught(self, bar: WrittenBar) -> tuple[Note, ...]:
        """Select the notes with words below: the hands' of fill and landing, and a foot's alone in the fill."""
        if bar.number not in self._taught:
            hands = [note for note in bar.hands.notes() if self.is_taught(bar, note)]
            notes = sorted([*hands, *self.select_lone_feet(bar)], key=lambda note: note.at)
            self._taught[bar.number] = tuple(notes)
        return self._taught[bar.number]

    def select_lone_feet(self, bar: WrittenBar) -> list[Note]:
        """Select the notes of the feet that no hand doubles, in the fill; without a fill, everywhere."""
        start = (bar.number - 1) * self.phrase.meter.bar
        struck = {note.at for note in bar.hands.notes()}
        return [
            note
            for note in bar.feet.notes()
            if note.at not in struck and (self.phrase.span is None or self.phrase.is_in_fill(start + note.at))
        ]

    def select_fill(self) -> tuple[Note, ...]:
        """Select the notes inside the fill that have letters below: the hands', and a lone foot's."""
        bar_length = self.phrase.meter.bar
        return tuple(
            note
            for bar in self.bars()
            for note in self.select_taught(bar)
            if self.phrase.is_in_fill((bar.number - 1) * bar_length + note.at)
        )

    def counts(self) -> Iterator[tuple[Note, str]]:
        """Yield each counted note with the word below it."""
        for bar in self.bars():
            words = self.words(bar)
            yield from ((note, words[note.at]) for note in self.select_taught(bar) if note.at in words)

    def words(self, bar: WrittenBar) -> dict[Fraction, str]:
        """Return the counting line of one bar by place: counts, or the figure's own words."""
        if not self.counting:
            return {}
        notes = self.select_taught(bar)
        counts = name_counts(self.phrase.meter, tuple(note.at for note in notes))
        spoken = {note.at: word for note, word in zip(notes, counts, strict=True)}
        if self.sparsely:
            spoken = {at: word for at, word in spoken.items() if word.isdecimal() or word == "&"}
        if self.cue and self.phrase.span:
            spoken.update(self._find_cue(bar))
        return {at: word for at, word in spoken.items() if word}

    def roomy_words(self, bar: WrittenBar) -> dict[Fraction, str]:
        """Return the widest word of the bar for each counted place, so that all get the same room."""
        words = self.words(bar)
        return dict.fromkeys(words, max(words.values(), key=len, default=""))

    def _find_cue(self, bar: WrittenBar) -> dict[Fraction, str]:
        start = (bar.number - 1) * self.phrase.meter.bar
        places = sorted({hit.at for hit in self.phrase.hits() if self.phrase.is_in_fill(hit.at)})
        cue = {at: self.cue[i % len(self.cue)] for i, at in enumerate(places)}
        return {note.at: cue[start + note.at] for note in self.select_taught(bar) if start + note.at in cue}


def spell_hands(note: Note) -> str:
    """Spell the hands of a note: R, L, or both letters where they strike together; K for a foot."""
    if note.hits[0].stroke.hand.is_foot:
        return FOOT_LETTER
    hands = sorted({hit.stroke.hand.value for hit in note.hits}, reverse=True)
    return "".join(hands)


def spell_graces(note: Note) -> tuple[str, ...]:
    """Spell the small letters of a note's grace notes, in order: l for a flam of the right hand."""
    graced = [hit for hit in note.hits if hit.stroke.kind.graces]
    if not graced:
        return ()
    text = format_slot(graced[0].stroke)
    return tuple(letter for letter in text if letter in "rl")
