"""Types of parts of a sound: heads, tones, plates, stick clicks, noise, washes and snare wires."""

from __future__ import annotations

from dataclasses import dataclass

Curve = tuple[tuple[float, float], ...]
"""Points of a curve over frequency: (Hz, value), ascending, with straight lines over octaves between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundPart:
    """Fields that every part of a sound has.

    Attributes:
        db: level among the parts, in dB.
        soft_db: dB that the part loses on top of the other parts when the stroke is half as hard.
        attack_ms: time in which it rises from silence.
    """

    db: float = 0.0
    soft_db: float = 0.0
    attack_ms: float = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Membrane(SoundPart):
    """The modes of a struck drum head.

    Attributes:
        hz: frequency of the lowest mode, once it has settled.
        t60: seconds in which a mode falls by 60 dB, over frequency.
        strike: place of the stroke, 0 the centre, 1 the edge.
        contact_ms: contact time of stick (or beater) and head in an accent.
        glide: share by which all modes start higher, because a hard blow tightens the head.
        glide_ms: time constant of the glide.
        air: load of the air on the head, 2 rho a / sigma, without unit.
        second: lowest mode of the two heads moving against each other: ratio to `hz`, dB against the lowest
            mode.
        colour: filter of shell, vent hole and distance, dB over frequency.
    """

    hz: float
    t60: Curve
    strike: float
    contact_ms: float
    glide: float
    glide_ms: float
    air: float
    second: tuple[float, float]
    colour: Curve = ((1000.0, 0.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Partials(SoundPart):
    """A few separate tones: a bell, the ping of a stick, a rim.

    Attributes:
        tones: Hz, dB and t60 in seconds of each.
    """

    tones: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate(SoundPart):
    """The dense modes of a cymbal, after Chladni's law as modified for cymbals: f = base * (m + 2n) ^ power.

    Attributes:
        cymbal: name of the cymbal that has these modes: hi-hats open and closed are the same pair.
        base_hz: base of the law above.
        power: exponent of the law above.
        spectrum: level of each half octave at the start of an accent, dB over frequency.
        t60: seconds in which a mode falls by 60 dB, over frequency.
        rise_ms: time constant with which a mode swells after the blow, over frequency.
        uneven_db: standard deviation of the modes' levels from the spectrum: a few strong ones sound as tones.
        width: 0 for both sides alike, 1 for two sides a quarter turn apart in phase.
    """

    cymbal: str
    base_hz: float
    power: float
    spectrum: Curve
    t60: Curve
    rise_ms: Curve = ((1000.0, 0.0),)
    uneven_db: float = 2.0
    width: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Stick(SoundPart):
    """The blow itself, as it spreads over a cymbal: a click with its high frequencies first.

    Attributes:
        spectrum: level, dB over frequency.
        contact_ms: contact time of stick and cymbal in an accent.
        late_ms: delay of 1 kHz after the highest frequency.
    """

    spectrum: Curve
    contact_ms: float
    late_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise(SoundPart):
    """Shaped noise: snare wires, a stick's or beater's click, two cymbals against each other.

    Attributes:
        spectrum: level, dB over frequency.
        t60: seconds in which it falls by 60 dB.
        width: 0 for both sides alike, 1 for two sides with nothing in common.
    """

    spectrum: Curve
    t60: float
    width: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wash(SoundPart):
    """Noise in bands that decay at different speeds: modes of head and shell that are too dense to separate.

    Attributes:
        spectrum: level of each half octave at the start of an accent, dB over frequency.
        t60: seconds in which each falls by 60 dB, over frequency.
        contact_ms: contact time of stick and head in an accent; softer strokes are duller.
        width: 0 for both sides alike, 1 for two sides with nothing in common.
    """

    spectrum: Curve
    t60: Curve
    contact_ms: float
    width: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wires(Wash):
    """Snare wires, driven by the lower head.

    Attributes:
        hz: frequency of the head that throws them.
        delay_ms: time that the blow takes through the drum.
        slap: share of their sound that comes in bursts, once a cycle, while the head swings far; 0 to 1.
    """

    hz: float
    delay_ms: float
    slap: float
