"""Damage to files, by a seeded generator of random numbers: bytes in, bytes out.

Bytes are damaged as storage, transfer and careless programs do it: bits turn, parts are lost, doubled or moved, numbers
in headers become the odd ones at which programs break. Text is miswritten as people do it: a word or number replaced by
another, a line lost, doubled or moved.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Sequence
from random import Random

from tests.bench import ogg

CHANGES = (1, 1, 1, 2, 3, 6)
SLIPS = (1, 1, 2, 3)
HEADER_BYTES = 80
"""Where the headers of most formats lie: half of all damage is done here."""
ODD_NUMBERS = (0, 1, 2, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFF_FFFF, 0x8000_0000, 0xFFFF_FFFF)
ODD_WORDS = (
    "0", "-0.0", "-1", "1e-300", "1e308", "nan", "inf", "-inf", "99999999999999999999", "0x10", "1_0", '""', "''",
    '"1/0"', '"4 1/2"', '"all"', '"take"', '"\\u0000"', '"\U0001f3b8"', '"\\u202e"', "true", "false", "[]", "{}",
    "[[]]", "{ 1 = 1 }", "{ x = 1 }", "1979-05-27", "[1, 1]", "=", "#", "\n", "[figure]", "[[figure]]", "\x00",
    "\ufeff",
)  # fmt: skip
NEAR_NUMBERS = ("0", "1", "2", "3", "5", "8", "0.25", "0.5", "1.5", "7.75", "12", "24", "48", "60", "1000")
DELTAS = tuple(map(bytes.fromhex, ("00", "00", "01", "30", "8170", "8360", "81f000", "ffffff7f")))
"""0, 1, 48, 240, 480, 30720 and 268435455 ticks, as delta times of MIDI files."""
_WORD = re.compile(r'"[^"\n]*"|[\w.+-]+|[^\w\s]')


def damaged(data: bytes, rng: Random, others: Sequence[bytes] = ()) -> bytes:
    """The bytes with one to six kinds of damage; parts of `others` may get into them."""
    changed = bytearray(data)
    for _ in range(rng.choice(CHANGES)):
        _damage(changed, rng, others)
    return bytes(changed)


def miswritten(text: str, rng: Random) -> str:
    """The text with one to three slips of the pen."""
    for _ in range(rng.choice(SLIPS)):
        text = _slip(text, rng)
    return text


def resealed(data: bytes) -> bytes:
    """An Ogg file with the checksums of its pages made right, so that what is damaged in them is read at all."""
    at, pages = 0, bytearray(data)
    while (at := pages.find(b"OggS", at)) >= 0 and at + ogg.HEADER_BYTES <= len(pages):
        segments = pages[at + ogg.HEADER_BYTES : at + ogg.HEADER_BYTES + pages[at + ogg.HEADER_BYTES - 1]]
        end = at + ogg.HEADER_BYTES + len(segments) + sum(segments)
        page = pages[at:end]
        page[ogg.CHECKSUM] = bytes(4)
        page[ogg.CHECKSUM] = ogg.checksum(page).to_bytes(4, "little")
        pages[at:end] = page
        at += 4
    return bytes(pages)


def refitted(data: bytes) -> bytes:
    """A MIDI file whose last track is as long as its header says, so that what is damaged in it is read at all."""
    at = data.rfind(b"MTrk")
    return data if at < 0 else data[: at + 4] + struct.pack(">L", max(len(data) - at - 8, 0)) + data[at + 8 :]


def any_messages(rng: Random) -> bytes:
    """MIDI messages that are none of a player's, each right by itself, with delta times before them."""
    channels = rng.sample(range(16), rng.randint(1, 3))
    events = bytearray()
    for _ in range(rng.randint(1, 60)):
        status = rng.choice((0x80, 0x90, 0x90, 0x90, 0xB0, 0xE0, 0xE0, 0xC0, 0xD0))
        first = rng.choice((6, 38, 64, 98, 99, 100, 101, 120, 121, 123, 127)) if status == 0xB0 else rng.randrange(128)
        values = [first, rng.choice((0, 1, 64, 127, rng.randrange(128)))][: 1 if status in (0xC0, 0xD0) else 2]
        events += rng.choice(DELTAS) + bytes((status | rng.choice(channels), *values))
    return bytes(events)


def _damage(data: bytearray, rng: Random, others: Sequence[bytes]) -> None:
    at = rng.randrange(min(len(data), HEADER_BYTES) if rng.random() < 0.5 else len(data)) if data else 0
    length = min(rng.choice((1, 2, 4, 16, 256)), len(data) - at)
    kind = rng.randrange(8)
    if kind == 0 and data:
        data[at] ^= 1 << rng.randrange(8)
    elif kind == 1:
        data[at : at + length] = rng.randbytes(length)
    elif kind == 2:
        size, order = rng.choice("BHL"), rng.choice("<>")
        odd = rng.choice(ODD_NUMBERS) & (0xFF, 0xFFFF, 0xFFFF_FFFF)["BHL".index(size)]
        number = struct.pack(order + size, odd)
        data[at : at + len(number)] = number
    elif kind == 3:
        del data[at : at + length]
    elif kind == 4:
        data[at:at] = data[at : at + length] * rng.choice((1, 1, 8))
    elif kind == 5 and rng.random() < 0.3:
        del data[at:]
    elif kind == 6 and others:
        other = rng.choice(others)
        begin = rng.randrange(len(other))
        data[at : at + length] = other[begin : begin + rng.choice((4, 64, 1024))]
    else:
        data[at:at] = rng.randbytes(length)


def _slip(text: str, rng: Random) -> str:
    if rng.random() < 0.3:
        lines = text.splitlines(keepends=True)
        if lines:
            line = lines.pop(rng.randrange(len(lines)))
            for _ in range(rng.choice((0, 1, 1, 2))):
                lines.insert(rng.randint(0, len(lines)), line)
        return "".join(lines)
    words = list(_WORD.finditer(text))
    if not words:
        return rng.choice(ODD_WORDS)
    word, other = rng.choice(words), rng.choice(words).group()
    if rng.random() < 0.4 and (numbers := [match for match in words if match.group()[0].isdigit()]):
        word = rng.choice(numbers)
        return text[: word.start()] + rng.choice(NEAR_NUMBERS) + text[word.end() :]
    new = rng.choice((rng.choice(ODD_WORDS), other, "", f"{word.group()} {other}", _misspelt(word.group(), rng)))
    return text[: word.start()] + new + text[word.end() :]


def _misspelt(word: str, rng: Random) -> str:
    at = rng.randrange(len(word))
    return word[:at] + rng.choice(("", word[at] * 2, rng.choice("09.x-\"'"))) + word[at + 1 :]
