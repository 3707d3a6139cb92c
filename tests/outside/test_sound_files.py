"""Audio files against the standards of their containers, read without the library that wrote them.

Source: IETF, RFC 3533, The Ogg Encapsulation Format (from memory)
Source: IETF, RFC 9639, Free Lossless Audio Codec (from memory)
Source: ISO/IEC 11172-3, MPEG-1 audio (from memory)
Source: Python's wave module (reads RIFF WAVE)
"""

import hashlib
import struct
import wave
from pathlib import Path

import numpy as np
import pytest

from fillwright.sound.files.audio import Audio
from fillwright.sound.files.encode import encode_audio
from fillwright.sound.model.bank import default_bank


def write_audio(path: Path, audio: Audio) -> None:
    path.write_bytes(encode_audio(audio, path.suffix))


@pytest.fixture(scope="module")
def audio():
    return Audio(samples=np.concatenate([default_bank().get_shot("crash", 112, n) for n in range(2)]))


def sixteen_bits(samples):
    return np.round(samples.astype(np.float64) * 32768).clip(-32768, 32767).astype("<i2")


def test_wav_is_16_bit_stereo_at_44100(tmp_path, audio):
    """RIFF WAVE as Python's own `wave` module reads it."""
    write_audio(tmp_path / "a.wav", audio)
    with wave.open(str(tmp_path / "a.wav"), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, 44100)
        assert file.getnframes() == len(audio.samples)
        read = np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2)
    assert np.abs(read.astype(int) - sixteen_bits(audio.samples)).max() <= 1


def test_flac_holds_the_samples_that_wav_holds(tmp_path, audio):
    """RFC 9639, section 8.2: STREAMINFO ends with the MD5 sum of the unencoded samples."""
    write_audio(tmp_path / "a.wav", audio)
    write_audio(tmp_path / "a.flac", audio)
    flac = (tmp_path / "a.flac").read_bytes()
    assert flac[:4] == b"fLaC"
    with wave.open(str(tmp_path / "a.wav"), "rb") as file:
        wav = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    summed = hashlib.md5(wav.tobytes()).digest()
    rounded = hashlib.md5(sixteen_bits(audio.samples).tobytes()).digest()
    assert flac[26:42] in (summed, rounded)


def crc(data):
    """RFC 3533, section 6, field 7: polynomial 0x04c11db7, initial value and final XOR 0."""
    value = 0
    for byte in data:
        value ^= byte << 24
        for _ in range(8):
            value = ((value << 1) ^ 0x04C11DB7 if value & 0x80000000 else value << 1) & 0xFFFFFFFF
    return value


def test_ogg_pages_are_one_sound_stream(tmp_path):
    """RFC 3533, section 6: capture pattern, flags, one serial number, pages in sequence, checksums."""
    write_audio(tmp_path / "a.ogg", Audio(samples=default_bank().get_shot("snare", 112, 0)))
    data = (tmp_path / "a.ogg").read_bytes()
    at, flags, serials, numbers = 0, [], set(), []
    while at < len(data):
        capture, version, flag, _, serial, number, check, segments = struct.unpack_from("<4sBBqIIIB", data, at)
        assert (capture, version) == (b"OggS", 0)
        end = at + 27 + segments + sum(data[at + 27 : at + 27 + segments])
        assert crc(data[at : at + 22] + bytes(4) + data[at + 26 : end]) == check
        flags.append(flag)
        serials.add(serial)
        numbers.append(number)
        at = end
    assert flags[0] & 2
    assert flags[-1] & 4
    assert len(serials) == 1
    assert numbers == list(range(len(numbers)))


def test_mp3_frames_are_layer_3_at_44100(tmp_path, audio):
    """ISO/IEC 11172-3, 2.4.2.3: twelve sync bits, MPEG-1, layer III, 44.1 kHz; from memory."""
    write_audio(tmp_path / "a.mp3", audio)
    data = (tmp_path / "a.mp3").read_bytes()
    start = data.index(b"\xff\xfb")
    assert data[start + 2] >> 2 & 3 == 0
    assert b"LAME" in data[start : start + 500]  # the header that tells players what to trim
