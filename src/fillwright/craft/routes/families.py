"""Families of routes in teaching order: how drummers are taught to take a figure round the kit."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from fillwright.craft.chains.chain import Chain, Placed
from fillwright.craft.routes.route import Family, Laid, Layout, Maker, Route, Setting
from fillwright.music.stroke import Kind, Level, Limb, Stroke

TEACHING_ORDER = tuple(family for family in Family if family is not Family.SEARCH)
"""The families, first to last."""


def family_routes(
    chain: Chain, setting: Setting, families: Iterable[Family] = TEACHING_ORDER
) -> tuple[Route, ...]:
    """Every route of some families that can be played at the setting's tempo, in their order, no two alike.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    maker = Maker(setting)
    found: list[Route] = []
    seen: set[tuple[object, object]] = set()
    for family in families:
        for layout in layouts(chain, setting, family):
            route = maker.route(layout)
            if route is not None and (route.hits, route.graces_on) not in seen:
                seen.add((route.hits, route.graces_on))
                found.append(route)
    return tuple(found)


def layouts(chain: Chain, setting: Setting, family: Family) -> Iterator[Layout]:
    """The layouts of one family on a kit, whether or not they can be played; the search has none here."""
    placed = tuple(chain.placed())
    if placed and family in _MAKERS:
        for words, surfaces in _MAKERS[family](placed, setting):
            yield Layout(family=family, words=words, strokes=tuple(_grounded(laid) for laid in surfaces))


Found = Iterator[tuple[str, Sequence[Laid]]]
"""Layouts of a family as they come: words and laid strokes."""


def _grounded(laid: Laid) -> Laid:
    """A stroke of a foot is on the kick, wherever a family would send it."""
    return replace(laid, surface="kick") if laid.placed.stroke.hand.is_foot else laid


def _lay(placed: Iterable[Placed], where: Callable[[Placed], str]) -> tuple[Laid, ...]:
    return tuple(Laid(placed=one, surface=where(one)) for one in placed)


def _one_surface(placed: Sequence[Placed], setting: Setting) -> Found:
    yield "all on the snare", _lay(placed, lambda _: "snare")
    if "floor tom" in setting.drums:
        yield "all on the floor tom", _lay(placed, lambda _: "floor tom")


def stops(drums: Sequence[str], count: int) -> tuple[str, ...]:
    """Drums for so many beats, in order: as many as there are, the first and the last among them.

    >>> stops(("snare", "high tom", "mid tom", "floor tom"), 3)
    ('snare', 'high tom', 'floor tom')
    >>> stops(("snare", "high tom", "floor tom"), 4)
    ('snare', 'snare', 'high tom', 'floor tom')
    """
    if count == 1:
        return (drums[0],)
    if count > len(drums):
        return tuple(drums[len(drums) * number // count] for number in range(count))
    return tuple(drums[number * (len(drums) - 1) // (count - 1)] for number in range(count))


def _by_beat(placed: Sequence[Placed], setting: Setting, drums: Sequence[str]) -> tuple[Laid, ...]:
    order = stops(drums, len(setting.beats()))
    return _lay(placed, lambda one: order[setting.beat_of(one.at)])


def _round(placed: Sequence[Placed], setting: Setting) -> Found:
    drums = setting.drums
    if len(setting.beats()) < 2 or len(drums) < 2:
        return
    yield _round_words(drums, setting), _by_beat(placed, setting, drums)
    if len(drums) > 2:
        yield _round_words(drums[1:], setting), _by_beat(placed, setting, drums[1:])


def _up(placed: Sequence[Placed], setting: Setting) -> Found:
    drums = tuple(reversed(setting.drums))
    if len(setting.beats()) < 2 or len(drums) < 2:
        return
    yield _round_words(drums, setting, "up the kit"), _by_beat(placed, setting, drums)
    if len(drums) > 2:
        yield _round_words(drums[:-1], setting, "up the kit"), _by_beat(placed, setting, drums[:-1])


def _round_words(drums: Sequence[str], setting: Setting, way: str = "round the kit") -> str:
    order = tuple(dict.fromkeys(stops(drums, len(setting.beats()))))
    return f"{way} beat by beat: {', '.join(order)}"


def _accented(placed: Sequence[Placed], setting: Setting) -> tuple[Placed, ...]:
    """The strokes with their accents; a figure without any is accented on each beat."""
    if any(one.stroke.level is Level.ACCENT for one in placed):
        return tuple(placed)
    beats = setting.beats()
    return tuple(_with_accent(one) if one.at in beats else one for one in placed)


def _with_accent(one: Placed) -> Placed:
    return replace(one, stroke=replace(one.stroke, level=Level.ACCENT))


def _is_accent(one: Placed) -> bool:
    return one.stroke.level is Level.ACCENT


def _accents(placed: Sequence[Placed], setting: Setting) -> Found:
    strokes = _accented(placed, setting)
    if not any(map(_is_accent, strokes)):
        return
    toms = _toms_by_hand(setting)
    if toms:
        low, high = toms
        yield (
            f"accents to the toms, the {_side(setting.low_hand)} hand's to the {low}",
            _chosen(strokes, _is_accent, lambda one: _by_hand(one, setting, toms)),
        )
        for tom in dict.fromkeys((high, low)):
            yield f"accents to the {tom}", _chosen(strokes, _is_accent, _always(tom))


def _side(hand: Limb) -> str:
    return "right" if hand is Limb.RIGHT else "left"


def _toms_by_hand(setting: Setting) -> tuple[str, str] | None:
    """The tom of the hand on the floor tom's side and that of the other, or None without toms."""
    toms = setting.drums[1:]
    return ("floor tom" if "floor tom" in toms else toms[-1], toms[0]) if toms else None


def _by_hand(one: Placed, setting: Setting, pair: tuple[str, str]) -> str:
    low, high = pair
    return low if one.stroke.hand is setting.low_hand else high


def _hands_on(placed: Sequence[Placed], setting: Setting, pair: tuple[str, str]) -> tuple[Laid, ...]:
    """Each hand on its drum, that of the hand on the floor tom's side first."""
    return _lay(placed, lambda one: _by_hand(one, setting, pair))


def _chosen(
    placed: Sequence[Placed], choose: Callable[[Placed], bool], where: Callable[[Placed], str]
) -> tuple[Laid, ...]:
    """Chosen strokes where they go, the others on the snare."""
    return _lay(placed, lambda one: where(one) if choose(one) else "snare")


def _always(name: str) -> Callable[[Placed], str]:
    return lambda _: name


def _apart(placed: Sequence[Placed], setting: Setting) -> Found:
    toms = _toms_by_hand(setting)
    if toms is None:
        return
    low, high = toms
    hand, other = _side(setting.low_hand), _side(setting.low_hand.other)
    for pair in dict.fromkeys(((low, "snare"), (low, high))):
        if pair[0] != pair[1]:
            strokes = _hands_on(placed, setting, pair)
            # a grace note is played by the other hand, on that hand's drum
            drums = {pair[0]: pair[1], pair[1]: pair[0]}
            apart = tuple(
                replace(laid, graces_on=drums[laid.surface]) if laid.placed.stroke.kind.graces else laid
                for laid in strokes
            )
            yield f"{hand} hand on the {pair[0]}, {other} hand on the {pair[1]}", apart


def _positions(placed: Sequence[Placed]) -> dict[Fraction, int]:
    """The number of each stroke in its turn, from 0, by its place."""
    numbers: dict[Fraction, int] = {}
    of_turn: dict[int, int] = {}
    for one in placed:
        numbers[one.at] = of_turn.get(one.turn, 0)
        of_turn[one.turn] = numbers[one.at] + 1
    return numbers


def _by_position(placed: Sequence[Placed], setting: Setting) -> Found:
    turns = len({one.turn for one in placed})
    toms = setting.drums[1:]
    longest = max(_positions(placed).values()) + 1
    if turns < 2 or len(toms) < 2 or longest < 2:
        return
    number = _positions(placed)
    order = stops(toms if turns <= len(toms) else setting.drums, turns)

    def on_turn(one: Placed) -> str:
        return order[one.turn]

    moving: tuple[tuple[str, Callable[[Placed], bool]], ...] = (
        ("the first stroke of each turn moves down the kit", lambda one: number[one.at] == 0),
        ("the accents move down the kit, a drum for each turn", _is_accent),
        ("the end of each turn moves down the kit", lambda one: number[one.at] >= longest - 2),
        ("each turn moves to the next drum", lambda _: True),
    )
    for words, moves in moving:
        if any(map(moves, placed)):
            yield words, _chosen(placed, moves, on_turn)


def _crash(one: Placed, setting: Setting) -> str:
    """The crash on the side of a hand: the second one stands on the side of the floor tom."""
    near = "second crash" if setting.kit.has("second crash") else "crash"
    return near if one.stroke.hand is setting.low_hand else "crash"


def _struck(one: Placed) -> Placed:
    """A stroke as a cymbal gets it: one stick, accented."""
    return replace(one, stroke=Stroke(hand=one.stroke.hand, level=Level.ACCENT))


def _on_cymbals(placed: Sequence[Placed], setting: Setting, crashes: Callable[[Placed], bool]) -> list[Laid]:
    return [
        Laid(placed=_struck(one), surface=_crash(one, setting))
        if crashes(one)
        else Laid(placed=one, surface="snare")
        for one in placed
    ]


def _cymbals(placed: Sequence[Placed], setting: Setting) -> Found:
    if not setting.kit.has("crash"):
        return
    ends = _ends(placed, setting)
    yield "each turn ends on a crash", _on_cymbals(placed, setting, lambda one: one.at in ends)
    accented = _accented(placed, setting)
    yield "accents on the crashes", _on_cymbals(accented, setting, _is_accent)
    last = placed[-1]
    for words, laid in _round(placed, setting):
        end = Laid(placed=_struck(last), surface=_crash(last, setting))
        yield f"{words}, the last stroke on the crash", [*laid[:-1], end]


def _ends(placed: Sequence[Placed], setting: Setting) -> set[Fraction]:
    """Places of the strokes that end a turn of several strokes and a beat together, and of the very last."""
    borders = {*setting.beats(), setting.span.length}
    number = _positions(placed)
    together = {one.at for one in placed if one.last and number[one.at] and one.at + one.length in borders}
    return together | {placed[-1].at}


def _kick(placed: Sequence[Placed], setting: Setting) -> Found:
    if not setting.kit.has("kick"):
        return
    number = _positions(placed)
    lengths = {one.turn: number[one.at] + 1 for one in placed}

    shortest = min(lengths.values())

    def in_last(strokes: int) -> Callable[[Placed], bool]:
        return lambda one: lengths[one.turn] - number[one.at] <= strokes

    if shortest > 2:
        yield "the last stroke of each turn for the foot", _chosen(placed, in_last(1), _always("kick"))
    if shortest > 3:
        yield "the last two strokes of each turn for the foot", _chosen(placed, in_last(2), _always("kick"))
    toms = _toms_by_hand(setting)
    if toms and shortest > 2:
        yield (
            "hands apart, the last stroke of each turn for the foot",
            _lay(placed, lambda one: "kick" if one.last else _by_hand(one, setting, toms)),
        )


def _split_flams(placed: Sequence[Placed], setting: Setting) -> Found:
    toms = _toms_by_hand(setting)
    if toms is None or not any(one.stroke.kind is Kind.FLAM for one in placed):
        return

    def laid(one: Placed, *, main_away: bool) -> Laid:
        if one.stroke.kind is not Kind.FLAM:
            return Laid(placed=one, surface="snare")
        if main_away:
            return Laid(placed=one, surface=_by_hand(one, setting, toms), graces_on="snare")
        # the grace note is the other hand's, so the toms change places
        return Laid(placed=one, surface="snare", graces_on=_by_hand(one, setting, (toms[1], toms[0])))

    yield "flams split, the main note on the toms", [laid(one, main_away=True) for one in placed]
    yield "flams split, the grace note on the toms", [laid(one, main_away=False) for one in placed]


def _mirrored(placed: Sequence[Placed], setting: Setting) -> Found:
    """Accents and hands with their toms exchanged: the same ideas from the other side, hands crossed."""
    toms = _toms_by_hand(setting)
    if toms is None or toms[0] == toms[1]:
        return
    low, high = toms
    other = (high, low)
    strokes = _accented(placed, setting)
    if any(map(_is_accent, strokes)):
        yield (
            f"accents to the toms, the {_side(setting.low_hand)} hand's to the {high}",
            _chosen(strokes, _is_accent, lambda one: _by_hand(one, setting, other)),
        )
    yield (
        f"{_side(setting.low_hand)} hand on the snare, {_side(setting.low_hand.other)} hand on the {low}",
        _hands_on(placed, setting, ("snare", low)),
    )


_MAKERS: dict[Family, Callable[[Sequence[Placed], Setting], Found]] = {
    Family.ONE_SURFACE: _one_surface,
    Family.ROUND: _round,
    Family.ACCENTS: _accents,
    Family.APART: _apart,
    Family.BY_POSITION: _by_position,
    Family.CYMBALS: _cymbals,
    Family.KICK: _kick,
    Family.SPLIT_FLAMS: _split_flams,
    Family.UP: _up,
    Family.MIRRORED: _mirrored,
}
