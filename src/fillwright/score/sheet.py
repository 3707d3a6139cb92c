"""What goes on one piece of engraved music: a phrase and the words around it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from fillwright.music.counting import name_counts
from fillwright.music.phrase import Phrase
from fillwright.music.sticking import format_slot
from fillwright.score.written import Note, WrittenBar, write

FOOT_LETTER = "K"
"""What stands in a sticking where the foot on the kick plays in a hand's place (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A phrase and the words around it.

    Attributes:
        phrase: what is engraved.
        tempo: words after the beat note above the first bar, "60–100"; "" for none.
        label: words above the first stroke of the fill; "" for none.
        sticking: whether hands stand below the fill and the landing.
        counting: whether the counting line stands below them.
        cue: the figure's own spoken words, one per stroke of the fill; empty to count.
        short_rolls: whether rolls are abbreviated.
        from_bar: the first bar to engrave, from 1, so that a line may show the fill alone.
        break_before: numbers of the bars that start a new line.
        closing: the bar line at the end: "end" or "single".
        sparsely: whether beats and their halves alone are counted; the figure's own words stay.
        repeats: whether a bar of groove like the one before stands as a sign, not written out.
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
        """The bars as written, from the first one engraved."""
        if not self._bars:
            self._bars.extend(write(self.phrase, short_rolls=self.short_rolls))
        return tuple(self._bars[self.from_bar - 1 :])

    def broken(self, before: tuple[int, ...]) -> Sheet:
        """The same with a new line before some bars."""
        return self._with(break_before=before)

    def sparse(self) -> Sheet:
        """The same with counts on beats and their halves alone, where there is no room for more."""
        return self._with(sparsely=True)

    def _with(self, **changes: Any) -> Sheet:
        """The same but for its layout; what is written already is taken over."""
        made = replace(self, **changes)
        made._bars.extend(self._bars)
        return made

    def is_repeat(self, bar: WrittenBar) -> bool:
        """Whether a bar stands as a sign that repeats the bar before."""
        return self.repeats and bar.repeats and bar.number != self.from_bar

    def is_taught(self, bar: WrittenBar, note: Note) -> bool:
        """Whether a note belongs to what is taught, the fill or the landing, and so has words below."""
        span = self.phrase.span
        at = (bar.number - 1) * self.phrase.meter.bar + note.at
        return span is None or at >= span.start

    def stickings(self) -> Iterator[tuple[Note, str]]:
        """The hand letter below each note of the fill and the landing; K where the foot plays in its place."""
        if not self.sticking:
            return
        for bar in self.bars():
            for note in self.taught_notes(bar):
                yield note, spell_hands(note)

    def taught_notes(self, bar: WrittenBar) -> tuple[Note, ...]:
        """The notes with words below: the hands' of fill and landing, and a foot's alone in the fill."""
        if bar.number not in self._taught:
            hands = [note for note in bar.hands.notes() if self.is_taught(bar, note)]
            notes = sorted([*hands, *self.lone_feet(bar)], key=lambda note: note.at)
            self._taught[bar.number] = tuple(notes)
        return self._taught[bar.number]

    def lone_feet(self, bar: WrittenBar) -> list[Note]:
        """The notes of the feet that no hand doubles, in the fill; where there is none, everywhere."""
        start = (bar.number - 1) * self.phrase.meter.bar
        struck = {note.at for note in bar.hands.notes()}
        return [
            note
            for note in bar.feet.notes()
            if note.at not in struck and (self.phrase.span is None or self.phrase.in_fill(start + note.at))
        ]

    def fill_notes(self) -> tuple[Note, ...]:
        """The notes inside the fill that have letters below: the hands', and a foot's in a hand's place."""
        bar_length = self.phrase.meter.bar
        return tuple(
            note
            for bar in self.bars()
            for note in self.taught_notes(bar)
            if self.phrase.in_fill((bar.number - 1) * bar_length + note.at)
        )

    def counts(self) -> Iterator[tuple[Note, str]]:
        """The word below each counted note."""
        for bar in self.bars():
            words = self.words(bar)
            yield from ((note, words[note.at]) for note in self.taught_notes(bar) if note.at in words)

    def words(self, bar: WrittenBar) -> dict[Fraction, str]:
        """The counting line of one bar by place: counts, or the figure's own words."""
        if not self.counting:
            return {}
        notes = self.taught_notes(bar)
        counts = name_counts(self.phrase.meter, tuple(note.at for note in notes))
        spoken = {note.at: word for note, word in zip(notes, counts, strict=True)}
        if self.sparsely:
            spoken = {at: word for at, word in spoken.items() if word.isdecimal() or word == "&"}
        if self.cue and self.phrase.span:
            spoken.update(self._cue_words(bar))
        return {at: word for at, word in spoken.items() if word}

    def roomy_words(self, bar: WrittenBar) -> dict[Fraction, str]:
        """For each counted place the widest word of the bar: no note gets less room than a shorter one."""
        words = self.words(bar)
        return dict.fromkeys(words, max(words.values(), key=len, default=""))

    def _cue_words(self, bar: WrittenBar) -> dict[Fraction, str]:
        start = (bar.number - 1) * self.phrase.meter.bar
        places = sorted({hit.at for hit in self.phrase.hits() if self.phrase.in_fill(hit.at)})
        cue = {at: self.cue[i % len(self.cue)] for i, at in enumerate(places)}
        return {note.at: cue[start + note.at] for note in self.taught_notes(bar) if start + note.at in cue}


def spell_hands(note: Note) -> str:
    """The hands of a note: R, L, or both letters where they strike together; K for a foot."""
    if note.hits[0].stroke.hand.is_foot:
        return FOOT_LETTER
    hands = sorted({hit.stroke.hand.value for hit in note.hits}, reverse=True)
    return "".join(hands)


def spell_graces(note: Note) -> tuple[str, ...]:
    """The small letters of a note's grace notes, in order: l for a flam of the right hand."""
    graced = [hit for hit in note.hits if hit.stroke.kind.graces]
    if not graced:
        return ()
    text = format_slot(graced[0].stroke)
    return tuple(letter for letter in text if letter in "rl")
