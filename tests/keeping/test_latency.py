"""Latency is kept by device and rate."""

from __future__ import annotations

from pathlib import Path

from livecheck.keeping.latency import FILE, keep_latency_ms, kept_latency_ms


def test_by_device_and_rate(tmp_path: Path) -> None:
    folder = tmp_path / "below"
    assert kept_latency_ms(folder, "Box (ALSA)", 48_000) is None
    assert keep_latency_ms(folder, "Box (ALSA)", 48_000, 12.345) == folder / FILE
    keep_latency_ms(folder, "Box (ALSA)", 44_100, 20.0)
    keep_latency_ms(folder, "Box (ALSA)", 48_000, 13.0)
    assert kept_latency_ms(folder, "Box (ALSA)", 48_000) == 13.0
    assert kept_latency_ms(folder, "Box (ALSA)", 44_100) == 20.0
    assert kept_latency_ms(folder, "Other (JACK)", 48_000) is None


def test_a_damaged_file_is_as_if_nothing_was_measured(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text("{", encoding="ascii")
    assert kept_latency_ms(tmp_path, "Box (ALSA)", 48_000) is None
    keep_latency_ms(tmp_path, "Box (ALSA)", 48_000, 13.0)
    assert kept_latency_ms(tmp_path, "Box (ALSA)", 48_000) == 13.0
