"""Ogg streams that come out the same each time.

An encoder draws the serial number of a stream by chance. Here the pages of one stream get a given number, and their
checksums anew: the layout of a page and its checksum (polynomial 0x04c11db7, nothing reflected, start and end 0) are in
RFC 3533, section 6.
"""

from __future__ import annotations

HEADER_BYTES = 27
SERIAL, CHECKSUM = slice(14, 18), slice(22, 26)
POLYNOMIAL = 0x04C11DB7


def with_serial(data: bytes, serial: int) -> bytes:
    """The pages of one Ogg stream with another serial number."""
    pages, at = [], 0
    while at < len(data):
        segments = data[at + HEADER_BYTES : at + HEADER_BYTES + data[at + HEADER_BYTES - 1]]
        end = at + HEADER_BYTES + len(segments) + sum(segments)
        page = bytearray(data[at:end])
        page[SERIAL] = serial.to_bytes(4, "little")
        page[CHECKSUM] = bytes(4)
        page[CHECKSUM] = checksum(page).to_bytes(4, "little")
        pages.append(bytes(page))
        at = end
    return b"".join(pages)


def checksum(page: bytes | bytearray) -> int:
    """The checksum of a page whose own checksum is 0."""
    register = 0
    for byte in page:
        register = (register << 8 & 0xFFFFFFFF) ^ TABLE[register >> 24 ^ byte]
    return register


def _entry(byte: int) -> int:
    register = byte << 24
    for _ in range(8):
        register = register << 1 ^ (POLYNOMIAL if register & 0x80000000 else 0)
    return register & 0xFFFFFFFF


TABLE = tuple(_entry(byte) for byte in range(256))
