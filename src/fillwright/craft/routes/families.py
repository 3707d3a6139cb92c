"""Families of routes in teaching order: the usual ways to move a figure around the kit (common practice)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from fillwright.craft.chains.chain import Chain, PlacedStroke
from fillwright.craft.routes.route import Family, Orchestration, Route, RouteBuilder, RoutedStroke, Setting
from fillwright.music.stroke import Kind, Level, Limb, Stroke

TEACHING_ORDER = tuple(family for family in Family if family is not Family.SEARCH)
"""The families, first to last."""


def find_family_routes(
    chain: Chain, setting: Setting, families: Iterable[Family] = TEACHING_ORDER
) -> tuple[Route, ...]:
    """Return every route of some families that is playable at the setting's tempo, in order, no two alike.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    builder = RouteBuilder(setting)
    routes: list[Route] = []
    seen: set[tuple[object, object]] = set()
    for family in families:
        for orchestration in orchestrate(chain, setting, family):
            route = builder.build(orchestration)
            if route is not None and (route.hits, route.graces_on) not in seen:
                seen.add((route.hits, route.graces_on))
                routes.append(route)
    return tuple(routes)


def orchestrate(chain: Chain, setting: Setting, family: Family) -> Iterator[Orchestration]:
    """Yield the orchestrations of one family on a kit, playable or not; none for `Family.SEARCH`."""
    strokes = tuple(chain.place_strokes())
    if strokes and family in _BUILDERS:
        for words, surfaces in _BUILDERS[family](strokes, setting):
            yield Orchestration(
                family=family, words=words, strokes=tuple(_send_feet_to_kick(stroke) for stroke in surfaces)
            )


Orchestrations = Iterator[tuple[str, Sequence[RoutedStroke]]]
"""The orchestrations of a family, one after the other: words and routed strokes."""


def _send_feet_to_kick(stroke: RoutedStroke) -> RoutedStroke:
    """Return a stroke of a foot on the kick, and any other as it is."""
    return replace(stroke, surface="kick") if stroke.placed.stroke.hand.is_foot else stroke


def _lay(strokes: Iterable[PlacedStroke], where: Callable[[PlacedStroke], str]) -> tuple[RoutedStroke, ...]:
    return tuple(RoutedStroke(placed=placed, surface=where(placed)) for placed in strokes)


def _orchestrate_one_surface(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    yield "all on the snare", _lay(strokes, lambda _: "snare")
    if "floor tom" in setting.drums:
        yield "all on the floor tom", _lay(strokes, lambda _: "floor tom")


def spread_drums(drums: Sequence[str], count: int) -> tuple[str, ...]:
    """Spread drums over a number of beats, in order, the first and the last drum among them.

    >>> spread_drums(("snare", "high tom", "mid tom", "floor tom"), 3)
    ('snare', 'high tom', 'floor tom')
    >>> spread_drums(("snare", "high tom", "floor tom"), 4)
    ('snare', 'snare', 'high tom', 'floor tom')
    """
    if count == 1:
        return (drums[0],)
    if count > len(drums):
        return tuple(drums[len(drums) * number // count] for number in range(count))
    return tuple(drums[number * (len(drums) - 1) // (count - 1)] for number in range(count))


def _lay_by_beat(
    strokes: Sequence[PlacedStroke], setting: Setting, drums: Sequence[str]
) -> tuple[RoutedStroke, ...]:
    order = spread_drums(drums, len(setting.beats()))
    return _lay(strokes, lambda placed: order[setting.beat_of(placed.at)])


def _orchestrate_round(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    drums = setting.drums
    if len(setting.beats()) < 2 or len(drums) < 2:
        return
    yield _describe_round(drums, setting), _lay_by_beat(strokes, setting, drums)
    if len(drums) > 2:
        yield _describe_round(drums[1:], setting), _lay_by_beat(strokes, setting, drums[1:])


def _orchestrate_up(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    drums = tuple(reversed(setting.drums))
    if len(setting.beats()) < 2 or len(drums) < 2:
        return
    yield _describe_round(drums, setting, "up the kit"), _lay_by_beat(strokes, setting, drums)
    if len(drums) > 2:
        yield _describe_round(drums[:-1], setting, "up the kit"), _lay_by_beat(strokes, setting, drums[:-1])


def _describe_round(drums: Sequence[str], setting: Setting, way: str = "round the kit") -> str:
    order = tuple(dict.fromkeys(spread_drums(drums, len(setting.beats()))))
    return f"{way} beat by beat: {', '.join(order)}"


def _add_accents(strokes: Sequence[PlacedStroke], setting: Setting) -> tuple[PlacedStroke, ...]:
    """Return the strokes with their accents; a figure without accents gets one on each beat."""
    if any(placed.stroke.level is Level.ACCENT for placed in strokes):
        return tuple(strokes)
    beats = setting.beats()
    return tuple(_with_accent(placed) if placed.at in beats else placed for placed in strokes)


def _with_accent(placed: PlacedStroke) -> PlacedStroke:
    return replace(placed, stroke=replace(placed.stroke, level=Level.ACCENT))


def _is_accent(placed: PlacedStroke) -> bool:
    return placed.stroke.level is Level.ACCENT


def _orchestrate_accents(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    accented = _add_accents(strokes, setting)
    if not any(map(_is_accent, accented)):
        return
    toms = _find_toms(setting)
    if toms:
        low, high = toms
        yield (
            _describe_accents(accented, setting, toms),
            _move_chosen(accented, _is_accent, lambda placed: _choose_by_hand(placed, setting, toms)),
        )
        for tom in dict.fromkeys((high, low)):
            yield f"accents on the {tom}", _move_chosen(accented, _is_accent, _choose_always(tom))


def _describe_accents(strokes: Sequence[PlacedStroke], setting: Setting, toms: tuple[str, str]) -> str:
    """Name the tom of each hand's accents, the low hand first; a hand without accents is not named."""
    accented = {placed.stroke.hand for placed in strokes if _is_accent(placed)}
    hands = [hand for hand in (setting.low_hand, setting.low_hand.other) if hand in accented]
    return ", ".join(
        f"{_name_side(hand)}-hand accents on the {toms[0] if hand is setting.low_hand else toms[1]}"
        for hand in hands
    )


def _name_side(hand: Limb) -> str:
    return "right" if hand is Limb.RIGHT else "left"


def _find_toms(setting: Setting) -> tuple[str, str] | None:
    """Return the tom of the hand on the floor tom's side and that of the other hand, or None without toms."""
    toms = setting.drums[1:]
    return ("floor tom" if "floor tom" in toms else toms[-1], toms[0]) if toms else None


def _choose_by_hand(placed: PlacedStroke, setting: Setting, pair: tuple[str, str]) -> str:
    low, high = pair
    return low if placed.stroke.hand is setting.low_hand else high


def _lay_hands(
    strokes: Sequence[PlacedStroke], setting: Setting, pair: tuple[str, str]
) -> tuple[RoutedStroke, ...]:
    """Return each hand on its drum; the first of the pair is for the hand on the floor tom's side."""
    return _lay(strokes, lambda placed: _choose_by_hand(placed, setting, pair))


def _move_chosen(
    strokes: Sequence[PlacedStroke],
    choose: Callable[[PlacedStroke], bool],
    where: Callable[[PlacedStroke], str],
) -> tuple[RoutedStroke, ...]:
    """Return the chosen strokes on their surfaces and the others on the snare."""
    return _lay(strokes, lambda placed: where(placed) if choose(placed) else "snare")


def _choose_always(name: str) -> Callable[[PlacedStroke], str]:
    return lambda _: name


def _orchestrate_apart(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    toms = _find_toms(setting)
    if toms is None:
        return
    low, high = toms
    hand, other = _name_side(setting.low_hand), _name_side(setting.low_hand.other)
    for pair in dict.fromkeys(((low, "snare"), (low, high))):
        if pair[0] != pair[1]:
            routed = _lay_hands(strokes, setting, pair)
            # a grace note is played by the other hand, on that hand's drum
            drums = {pair[0]: pair[1], pair[1]: pair[0]}
            split = tuple(
                replace(stroke, graces_on=drums[stroke.surface]) if stroke.placed.stroke.kind.graces else stroke
                for stroke in routed
            )
            yield f"{hand} hand on the {pair[0]}, {other} hand on the {pair[1]}", split


def _number_strokes(strokes: Sequence[PlacedStroke]) -> dict[Fraction, int]:
    """Return the number of each stroke in its repetition, from 0, by its place."""
    numbers: dict[Fraction, int] = {}
    by_statement: dict[int, int] = {}
    for placed in strokes:
        numbers[placed.at] = by_statement.get(placed.statement, 0)
        by_statement[placed.statement] = numbers[placed.at] + 1
    return numbers


def _orchestrate_by_position(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    count = len({placed.statement for placed in strokes})
    toms = setting.drums[1:]
    longest = max(_number_strokes(strokes).values()) + 1
    if count < 2 or len(toms) < 2 or longest < 2:
        return
    number = _number_strokes(strokes)
    order = spread_drums(toms if count <= len(toms) else setting.drums, count)

    def choose_drum(placed: PlacedStroke) -> str:
        return order[placed.statement]

    moving: tuple[tuple[str, Callable[[PlacedStroke], bool]], ...] = (
        ("the first stroke of each repetition moves down the kit", lambda placed: number[placed.at] == 0),
        ("the accents move down the kit, a drum for each repetition", _is_accent),
        ("the end of each repetition moves down the kit", lambda placed: number[placed.at] >= longest - 2),
        ("each repetition moves to the next drum", lambda _: True),
    )
    for words, moves in moving:
        if any(map(moves, strokes)):
            yield words, _move_chosen(strokes, moves, choose_drum)


def _choose_crash(placed: PlacedStroke, setting: Setting) -> str:
    """Return the crash on the side of a hand: the second crash is on the side of the floor tom."""
    near = "second crash" if setting.kit.has("second crash") else "crash"
    return near if placed.stroke.hand is setting.low_hand else "crash"


def _strike(placed: PlacedStroke) -> PlacedStroke:
    """Return a stroke as it is played on a cymbal: single and accented."""
    return replace(placed, stroke=Stroke(hand=placed.stroke.hand, level=Level.ACCENT))


def _lay_on_cymbals(
    strokes: Sequence[PlacedStroke], setting: Setting, crashes: Callable[[PlacedStroke], bool]
) -> list[RoutedStroke]:
    return [
        RoutedStroke(placed=_strike(placed), surface=_choose_crash(placed, setting))
        if crashes(placed)
        else RoutedStroke(placed=placed, surface="snare")
        for placed in strokes
    ]


def _orchestrate_cymbals(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    if not setting.kit.has("crash"):
        return
    ends = _find_ends(strokes, setting)
    yield _describe_ends(strokes, ends), _lay_on_cymbals(strokes, setting, lambda placed: placed.at in ends)
    accented = _add_accents(strokes, setting)
    yield "accents on the crashes", _lay_on_cymbals(accented, setting, _is_accent)
    last = strokes[-1]
    for words, routed in _orchestrate_round(strokes, setting):
        end = RoutedStroke(placed=_strike(last), surface=_choose_crash(last, setting))
        yield f"{words}, the last stroke on the crash", [*routed[:-1], end]


def _describe_ends(strokes: Sequence[PlacedStroke], ends: set[Fraction]) -> str:
    """Return which repetitions end on a crash: every one, those that end with a beat, or the last."""
    lasts = {placed.at for placed in strokes if placed.last} | {strokes[-1].at}
    if lasts == ends:
        return "every repetition ends on a crash" if len(ends) > 1 else "the last stroke on a crash"
    return "the last stroke on a crash" if len(ends) == 1 else "repetitions that end with a beat end on a crash"


def _find_ends(strokes: Sequence[PlacedStroke], setting: Setting) -> set[Fraction]:
    """Return the places of strokes that end a repetition of several strokes and a beat, and the last place."""
    borders = {*setting.beats(), setting.span.length}
    number = _number_strokes(strokes)
    together = {
        placed.at
        for placed in strokes
        if placed.last and number[placed.at] and placed.at + placed.length in borders
    }
    return together | {strokes[-1].at}


def _orchestrate_kick(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    if not setting.kit.has("kick"):
        return
    number = _number_strokes(strokes)
    lengths = {placed.statement: number[placed.at] + 1 for placed in strokes}

    shortest = min(lengths.values())

    def in_last(count: int) -> Callable[[PlacedStroke], bool]:
        return lambda placed: lengths[placed.statement] - number[placed.at] <= count

    if shortest > 2:
        yield (
            "the last stroke of each repetition for the foot",
            _move_chosen(strokes, in_last(1), _choose_always("kick")),
        )
    if shortest > 3:
        yield (
            "the last two strokes of each repetition for the foot",
            _move_chosen(strokes, in_last(2), _choose_always("kick")),
        )
    toms = _find_toms(setting)
    if toms and shortest > 2:
        yield (
            "hands apart, the last stroke of each repetition for the foot",
            _lay(strokes, lambda placed: "kick" if placed.last else _choose_by_hand(placed, setting, toms)),
        )


def _orchestrate_split_flams(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    toms = _find_toms(setting)
    if toms is None or not any(placed.stroke.kind is Kind.FLAM for placed in strokes):
        return

    def split(placed: PlacedStroke, *, main_away: bool) -> RoutedStroke:
        if placed.stroke.kind is not Kind.FLAM:
            return RoutedStroke(placed=placed, surface="snare")
        if main_away:
            return RoutedStroke(
                placed=placed, surface=_choose_by_hand(placed, setting, toms), graces_on="snare"
            )
        # the grace note is the other hand's, so the toms change places
        return RoutedStroke(
            placed=placed, surface="snare", graces_on=_choose_by_hand(placed, setting, (toms[1], toms[0]))
        )

    yield "flams split, the main note on the toms", [split(placed, main_away=True) for placed in strokes]
    yield "flams split, the grace note on the toms", [split(placed, main_away=False) for placed in strokes]


def _orchestrate_mirror(strokes: Sequence[PlacedStroke], setting: Setting) -> Orchestrations:
    """Yield the accents and hands with their toms exchanged, so that the hands cross."""
    toms = _find_toms(setting)
    if toms is None or toms[0] == toms[1]:
        return
    low, high = toms
    other = (high, low)
    accented = _add_accents(strokes, setting)
    if any(map(_is_accent, accented)):
        yield (
            _describe_accents(accented, setting, other),
            _move_chosen(accented, _is_accent, lambda placed: _choose_by_hand(placed, setting, other)),
        )
    hand, other_hand = _name_side(setting.low_hand), _name_side(setting.low_hand.other)
    yield (
        f"{hand} hand on the snare, {other_hand} hand on the {low}",
        _lay_hands(strokes, setting, ("snare", low)),
    )


_BUILDERS: dict[Family, Callable[[Sequence[PlacedStroke], Setting], Orchestrations]] = {
    Family.ONE_SURFACE: _orchestrate_one_surface,
    Family.ROUND: _orchestrate_round,
    Family.ACCENTS: _orchestrate_accents,
    Family.APART: _orchestrate_apart,
    Family.BY_POSITION: _orchestrate_by_position,
    Family.CYMBALS: _orchestrate_cymbals,
    Family.KICK: _orchestrate_kick,
    Family.SPLIT_FLAMS: _orchestrate_split_flams,
    Family.UP: _orchestrate_up,
    Family.MIRRORED: _orchestrate_mirror,
}
