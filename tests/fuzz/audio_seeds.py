"""Short recordings in every container that is read, and a SoundFont and a folder of sounds."""

from __future__ import annotations

import io

import av
import numpy as np
import soundfile

from tests.soundfonts import Drum, soundfont, stroke

_RATE = 48_000
_PLAIN = {
    "wav": ("WAV", ("PCM_16", "PCM_24", "FLOAT", "PCM_U8")),
    "flac": ("FLAC", ("PCM_16",)),
    "ogg": ("OGG", ("VORBIS",)),
}
_CODED = {"mp3": ("libmp3lame", "mp3"), "m4a": ("aac", "mp4"), "webm": ("libopus", "webm")}
CONTAINERS = (*_PLAIN, *_CODED)
"""Endings of the recordings."""


def make_recordings(ending: str) -> list[bytes]:
    """Return valid recordings of half a second."""
    signal = np.tile(stroke(seconds=0.125, rate=_RATE), 4)
    if ending in _CODED:
        return [_encode(signal, *_CODED[ending])]
    form, subtypes = _PLAIN[ending]
    return [_write(signal, form, subtype) for subtype in subtypes] + [
        _write(np.stack([signal] * 2, axis=1), form, subtypes[0])
    ]


def _write(signal: np.ndarray, form: str, subtype: str) -> bytes:
    memory = io.BytesIO()
    soundfile.write(memory, signal, _RATE, format=form, subtype=subtype)
    return memory.getvalue()


def _encode(signal: np.ndarray, codec: str, form: str) -> bytes:
    memory = io.BytesIO()
    with av.open(memory, "w", format=form) as container:
        stream = container.add_stream(codec, rate=_RATE)
        stream.layout = "mono"
        context = stream.codec_context
        resampler = av.AudioResampler(
            format=context.format, layout="mono", rate=_RATE, frame_size=context.frame_size or 1024
        )
        frame = av.AudioFrame.from_ndarray(signal[None].astype(np.float32), format="fltp", layout="mono")
        frame.sample_rate = _RATE
        for piece in (*resampler.resample(frame), *resampler.resample(None)):
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return memory.getvalue()


def make_soundfont(*, compressed: bool = False) -> bytes:
    """Return a SoundFont with kick, snare and hi-hat."""
    short = stroke(seconds=0.02)
    drums = [Drum(keys=(key, key), samples=short, exclusive=key == 42) for key in (36, 38, 42)]
    drums.append(Drum(keys=(38, 40), samples=short, velocities=(40, 127)))
    return soundfont(drums, compressed=compressed)
