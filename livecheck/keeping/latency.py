"""How long sound takes out of the machine and back, as it was measured, by device and rate.

A JSON file in the keeping folder; what cannot be read there is as if it had not been measured.
"""

from __future__ import annotations

from pathlib import Path

import msgspec
from msgspec import Struct

FILE = "latency.json"


class _Kept(Struct):
    format: int = 1
    latency_ms: dict[str, float] = {}
    """Device and rate -> milliseconds."""


def kept_latency_ms(folder: Path, label: str, rate_hz: int) -> float | None:
    """What was measured for a device at a rate; None if it was not."""
    return _read(folder).latency_ms.get(_key(label, rate_hz))


def keep_latency_ms(folder: Path, label: str, rate_hz: int, latency_ms: float) -> Path:
    """Keep it instead of what was measured before; the file's path. OSError if it cannot be written."""
    kept = _read(folder)
    kept.latency_ms[_key(label, rate_hz)] = round(latency_ms, 2)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE
    fresh = path.with_suffix(".new")
    fresh.write_bytes(msgspec.json.format(msgspec.json.encode(kept)) + b"\n")
    fresh.replace(path)
    return path


def _key(label: str, rate_hz: int) -> str:
    return f"{label} at {rate_hz} Hz"


def _read(folder: Path) -> _Kept:
    try:
        return msgspec.json.decode((folder / FILE).read_bytes(), type=_Kept)
    except (OSError, msgspec.DecodeError):
        return _Kept()
