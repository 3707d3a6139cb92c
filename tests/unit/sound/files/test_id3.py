"""The tags before an MP3's sound."""

from fillwright.sound.files.id3 import build_id3_tag


def test_no_texts_make_no_tag():
    assert build_id3_tag({}) == b""


def test_latin_letters_take_a_byte_each():
    assert build_id3_tag({"title": "Größer"}).endswith(b"TIT2\0\0\0\x07\0\0\0Gr\xf6\xdfer")


def test_other_letters_are_utf_16_with_a_mark():
    assert build_id3_tag({"artist": "№"}).endswith(b"TPE1\0\0\0\x05\0\0\x01\xff\xfe\x16\x21")


def test_a_comment_has_a_language_and_no_description():
    assert build_id3_tag({"comment": "4/4"}).endswith(b"COMM\0\0\0\x08\0\0\0eng\x004/4")
    assert build_id3_tag({"comment": "№"}).endswith(b"\x01eng\xff\xfe\0\0\xff\xfe\x16\x21")


def test_the_size_has_seven_bits_a_byte():
    tag = build_id3_tag({"title": "a" * 1000})
    size = 1000 + 11
    assert tag[6:10] == bytes([0, 0, size >> 7, size & 127])
    assert len(tag) == 10 + size
