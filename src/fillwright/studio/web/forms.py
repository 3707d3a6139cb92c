"""Forms as typed structs: one conversion for all of them, with every mistake by its field.

A form is a `msgspec.Struct`. Each field is `Annotated` with a `Meta`, whose `title` is the label on the page:

    class LogForm(Struct, kw_only=True):
        minutes: Annotated[int, Meta(title="Minutes practised today", ge=1, le=1440)]

A text is stripped, unless its `Meta` has `extra=KEEP_SPACES`. A `bool` is True if its box was sent. An empty
field with a default gets the default. `tuple[str, ...]` takes every value of a name. `tuple[Row, ...]` takes
numbered fields such as "figure-0-name", where `Row` is a struct and the `Meta` has `extra=rows("figure")`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from fractions import Fraction
from types import UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, cast, get_args, get_origin

import msgspec
from msgspec import NODEFAULT, Meta, Struct
from msgspec.structs import FieldInfo, fields

from fillwright.errors import Mistake, MistakeKind, TableError
from fillwright.studio.web.request import PageRequest

KEEP_SPACES = {"keep spaces": True}
"""Marks a text that is not stripped: a password, a lesson text."""

_MOST_ROWS = 60
"""Numbered rows of a form that are read. Ours."""

_LONGEST_QUOTE = 40
"""Characters of a wrong value that a sentence quotes. Ours."""

_FINITE = 1e6
"""Numbers of this size and above are refused, "inf" and "nan" too. Ours."""

Form = TypeVar("Form", bound=Struct)


class FormError(TableError):
    """Mistakes in a form.

    Attributes:
        by_field: the mistake of each wrong field, by the name that the form has for it.
    """

    def __init__(self, by_field: Mapping[str, Mistake]) -> None:
        """Take the mistakes by field, at least one."""
        super().__init__("", tuple(by_field.values()))
        self.by_field = dict(by_field)

    @classmethod
    def of_field(cls, name: str, label: str, message: str) -> FormError:
        """Make an error of a single mistake."""
        return cls({name: Mistake(key=label, kind=MistakeKind.VALUE, message=message)})


def rows(prefix: str) -> dict[str, Any]:
    """Return what marks a field as numbered rows whose names begin with a prefix."""
    return {"rows": prefix}


def convert_form(form: type[Form], request: PageRequest) -> Form:
    """Convert the form of a request.

    Raises:
        FormError: for every field that can't be converted, all together.
    """
    return convert_fields(form, request.fields, request.lists)


def convert_fields(
    form: type[Form], values: Mapping[str, str], lists: Mapping[str, tuple[str, ...]] | None = None
) -> Form:
    """Convert the fields of a form, or the parameters of an address.

    Args:
        form: struct to make.
        values: last value of each name.
        lists: every value of each name; None if no field takes several.

    Raises:
        FormError: for every field that can't be converted, all together.
    """
    mistakes: dict[str, Mistake] = {}
    converted = _convert(form, values, lists or {}, mistakes, prefix="")
    if mistakes:
        raise FormError(mistakes)
    return form(**converted)


def _convert(
    form: type[Struct],
    values: Mapping[str, str],
    lists: Mapping[str, tuple[str, ...]],
    mistakes: dict[str, Mistake],
    *,
    prefix: str,
) -> dict[str, Any]:
    converted: dict[str, Any] = {}
    for field in fields(form):
        kind, meta = _split_type(field.type)
        name = f"{prefix}{field.encode_name}"
        marks = meta.extra or {}
        if "rows" in marks:
            row = get_args(kind)[0]
            converted[field.name] = tuple(_convert_rows(row, str(marks["rows"]), values, mistakes))
        elif get_origin(kind) is tuple:
            converted[field.name] = lists.get(name, ())
        elif kind is bool:
            converted[field.name] = name in values
        else:
            text = values.get(name, "")
            try:
                converted[field.name] = _convert_text(field, text if "keep spaces" in marks else text.strip())
            except ValueError:  # msgspec's ValidationError is one
                label = meta.title or field.name
                message = _describe_mistake(text, kind, meta)
                mistakes[name] = Mistake(key=label, kind=MistakeKind.VALUE, message=message)
    return converted


def _convert_rows(
    row: type[Struct], prefix: str, values: Mapping[str, str], mistakes: dict[str, Mistake]
) -> Iterator[Struct]:
    names = [field.encode_name for field in fields(row)]
    for index in range(_MOST_ROWS):
        start = f"{prefix}-{index}-"
        if not any(f"{start}{name}" in values for name in names):
            continue
        row_mistakes: dict[str, Mistake] = {}
        converted = _convert(row, values, {}, row_mistakes, prefix=start)
        for name, mistake in row_mistakes.items():
            label = f"{mistake.key}, row {index + 1}"
            mistakes[name] = Mistake(key=label, kind=mistake.kind, message=mistake.message)
        if not row_mistakes:
            yield row(**converted)


def _convert_text(field: FieldInfo, text: str) -> Any:
    """Convert one text.

    Raises:
        ValueError: if the field's type or limits refuse it.
    """
    kind, _ = _split_type(field.type)
    if not text and field.default is not NODEFAULT:
        return field.default
    if kind is Fraction:
        return _read_fraction(text)
    if kind is float:
        text = text.replace(",", ".")  # as it is written in much of Europe
        if not abs(float(text)) < _FINITE:
            raise ValueError(text)
    return msgspec.convert(text, field.type, strict=False)


def _read_fraction(text: str) -> Fraction:
    try:
        return Fraction(text) if len(text) < 10 else Fraction(0)
    except ZeroDivisionError as error:
        raise ValueError(text) from error


def _split_type(annotated: Any) -> tuple[Any, Meta]:
    """Return a field's type, without "or None", and its Meta."""
    if get_origin(annotated) in (Union, UnionType):
        annotated = next(kind for kind in get_args(annotated) if kind is not type(None))
    if get_origin(annotated) is Annotated:
        kind, *marks = get_args(annotated)
        return kind, next((mark for mark in marks if isinstance(mark, Meta)), Meta())
    return annotated, Meta()


def _describe_mistake(text: str, kind: Any, meta: Meta) -> str:
    accepted = _describe_accepted(kind, meta)
    if not text.strip():
        return f"This field is empty; write {accepted}."
    if kind is str and get_origin(kind) is not Literal:
        return f"Found {len(text):,} characters; write {accepted}."
    quote = text if len(text) <= _LONGEST_QUOTE else f"{text[:_LONGEST_QUOTE]}…"
    return f'Found "{quote}"; write {accepted}.'


def _describe_accepted(kind: Any, meta: Meta) -> str:
    """Return what a field accepts, as the end of a sentence.

    >>> _describe_accepted(int, Meta(ge=5, le=600))
    'a whole number from 5 to 600'
    >>> _describe_accepted(Literal["a4", "letter"], Meta())
    'a4 or letter'
    """
    if meta.description:
        return meta.description
    if get_origin(kind) is Literal:
        return " or ".join(map(str, get_args(kind)))
    if kind is str:
        return f"{meta.min_length or 0:,} to {meta.max_length:,} characters" if meta.max_length else "some text"
    if kind is date:
        return "a day such as 2026-03-01"
    noun = "a whole number" if kind is int else "a number"
    limits = (meta.ge, meta.le)
    return f"{noun} from {limits[0]:g} to {limits[1]:g}" if None not in limits else noun


def fill_form(form: type[Struct], values: Mapping[str, Any]) -> dict[str, str]:
    """Return the text of every plain field, as a page shows it: "" for what is missing."""
    names = [field.encode_name for field in fields(form)]
    return {name: cast("str", values.get(name, "")) for name in names}


def list_labels(form: type[Struct]) -> dict[str, str]:
    """Return the label of every field, by its name."""
    return {field.name: _split_type(field.type)[1].title or field.name for field in fields(form)}
