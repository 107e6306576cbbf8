"""A stand-in for PyAudio that plays a sound file into the callback, faster than it lasts.

`LOOPBACK` in the environment is the file; before the blocks whose numbers are in `LOOPBACK_LOST` one block is left out
and the overflow is flagged, as PortAudio does. After the file the device is pulled out.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from typing import Any

import soundfile

paFloat32 = paJACK = 1  # noqa: N816 - PyAudio's names, of values that do not matter here
paContinue = 0  # noqa: N816
paInputOverflow = 2  # noqa: N816


class PyAudio:
    def __init__(self) -> None:
        self._sound = soundfile.SoundFile(os.environ["LOOPBACK"])
        self._lost = {int(number) for number in os.environ.get("LOOPBACK_LOST", "").split()}

    def get_host_api_count(self) -> int:
        return 1

    def get_host_api_info_by_index(self, _: int) -> dict[str, Any]:
        return {"name": "Loop", "type": 0, "deviceCount": 1}

    def get_device_count(self) -> int:
        return 1

    def get_device_info_by_index(self, index: int) -> dict[str, Any]:
        return {
            "index": index,
            "name": "Loopback",
            "hostApi": 0,
            "maxInputChannels": self._sound.channels,
            "defaultSampleRate": float(self._sound.samplerate),
            "defaultLowInputLatency": 0.01,
        }

    def get_default_input_device_info(self) -> dict[str, Any]:
        return self.get_device_info_by_index(0)

    def is_format_supported(self, rate_hz: int, **_: object) -> bool:
        if rate_hz != self._sound.samplerate:
            raise ValueError("Invalid sample rate", -9997)
        return True

    def open(
        self, *, rate: int, channels: int, frames_per_buffer: int, stream_callback: Callable[..., object], **_: object
    ) -> PyAudio:
        if rate != self._sound.samplerate:
            raise OSError(-9997, "Invalid sample rate")
        threading.Thread(target=self._play, args=[channels, frames_per_buffer, stream_callback]).start()
        return self

    def is_active(self) -> bool:
        return bool(self._sound.tell() < len(self._sound))

    def close(self) -> None: ...

    def terminate(self) -> None: ...

    def _play(self, channels: int, frames: int, heard: Callable[..., object]) -> None:
        for number, block in enumerate(self._sound.blocks(frames, dtype="float32", always_2d=True)):
            if number + 1 not in self._lost:
                data = block[:, :channels].tobytes()
                heard(data, len(block), {}, paInputOverflow if number in self._lost else 0)
