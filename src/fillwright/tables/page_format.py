"""Paper sizes that handouts, run sheets and reports are printed on."""

from enum import StrEnum


class PageFormat(StrEnum):
    """A paper size; its value is the word that lesson files, options and settings use."""

    A4 = "a4"
    LETTER = "letter"
