"""The one tree of errors.

FillwrightError           anything a user can put right; its text is one clear sentence
├── StickingError         a sticking text that can't be read
├── CountError            a place in the bar that can't be read ("2a")
├── UnknownNameError      a figure, groove, meter or surface nobody has defined
├── TempoError            a tempo or tempo ladder outside what can be played or written
├── SpanError             a fill that does not fit the phrase
├── FitError              a figure that does not fill the span it was given
├── NotationError         a rhythm that can't be written
├── LessonFileError       mistakes in a lesson file, all of them together
├── StoreError            a store of students and lessons that can't be opened, or a thing it can't keep
│   └── NotThereError     a lesson, student or take that is not there, or is another teacher's
├── TakeError             a take that can't be read
├── SoundsError           recorded sounds that can't be used
└── OutputError           a file or folder that can't be written
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

_MOST_NAMES = 20


class FillwrightError(Exception):
    """Something a user can put right: what was found, where, and what would be accepted."""


class StickingError(FillwrightError):
    """A sticking text that can't be read; the message points at the stroke."""


class CountError(FillwrightError):
    """A place in the bar that can't be read."""


class UnknownNameError(FillwrightError):
    """A name that stands in none of our tables."""

    @classmethod
    def of(cls, what: str, found: str, known: Iterable[str]) -> UnknownNameError:
        """Say what was found and offer the nearest known name.

        >>> print(UnknownNameError.of("groove", "shufle", ["shuffle", "waltz"]))
        There is no groove called "shufle"; did you mean "shuffle"?
        """
        return cls(f'There is no {what} called "{found}"; {nearest(found, known)}')


class TempoError(FillwrightError):
    """A tempo that can't be played or written."""


class SpanError(FillwrightError):
    """A span that does not lie inside its phrase."""


class FitError(FillwrightError):
    """A figure that does not fill the span it was given."""


class NotationError(FillwrightError):
    """A rhythm that can't be written."""


class LessonFileError(FillwrightError):
    """Mistakes in a lesson file, each with its line and key."""


class StoreError(FillwrightError):
    """A store that can't be opened, or a thing that it can't keep."""


class NotThereError(StoreError):
    """Something that is not in the store, or is not at this teacher's desk."""


class SoundsError(FillwrightError):
    """A SoundFont, or a folder of recorded sounds, that can't be used."""


class TakeError(FillwrightError):
    """A take that can't be read."""


class OutputError(FillwrightError):
    """A file or folder that can't be written."""


def nearest(found: str, known: Iterable[str]) -> str:
    """The end of a sentence that helps with a name nobody knows.

    >>> nearest("tittle", ["title", "number"])
    'did you mean "title"?'
    >>> nearest("zzz", ["title", "number"])
    'known are: title, number.'
    """
    names = list(known)
    close = get_close_matches(found, names, n=1)
    if close:
        return f'did you mean "{close[0]}"?'
    more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    return f"known are: {', '.join(names[:_MOST_NAMES])}{more}."
