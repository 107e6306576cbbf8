"""A stand-in for PyAudio whose input hears its output again after `ECHO_FRAMES`, as by a cable, in real time.

`ECHO_GAIN` in the environment is how much of the output comes back. `ECHO_SOUND` is a file that a player plays:
`ECHO_AFTER` frames after each first click, that is, the first after two silent seconds.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import soundfile

paFloat32 = paJACK = 1  # noqa: N816 - PyAudio's names, of values that do not matter here
paContinue = 0  # noqa: N816
paInputOverflow = 2  # noqa: N816
RATE_HZ = 48_000
CALM_S = 2
SPEED = float(os.environ.get("ECHO_SPEED", "4"))
"""Times as fast as it lasts."""


class PyAudio:
    def __init__(self) -> None:
        self._open = True
        sound = os.environ.get("ECHO_SOUND")
        self._sound = soundfile.read(sound, dtype="float32")[0].reshape(-1) if sound else np.zeros(0, dtype=np.float32)
        self._after = int(os.environ.get("ECHO_AFTER", "0"))

    def get_host_api_count(self) -> int:
        return 1

    def get_host_api_info_by_index(self, _: int) -> dict[str, Any]:
        return {"name": "Loop", "type": 0, "deviceCount": 1, "defaultOutputDevice": 0}

    def get_device_count(self) -> int:
        return 1

    def get_device_info_by_index(self, index: int) -> dict[str, Any]:
        return {
            "index": index,
            "name": "Cable",
            "hostApi": 0,
            "maxInputChannels": 1,
            "maxOutputChannels": int(os.environ.get("ECHO_OUTPUTS", "1")),
            "defaultSampleRate": float(RATE_HZ),
            "defaultLowInputLatency": 0.01,
        }

    def get_default_input_device_info(self) -> dict[str, Any]:
        return self.get_device_info_by_index(0)

    def is_format_supported(self, _: int, **__: object) -> bool:
        return True

    def open(self, *, frames_per_buffer: int, stream_callback: Callable[..., Any], **_: object) -> PyAudio:
        threading.Thread(target=self._run, args=[frames_per_buffer, stream_callback], daemon=True).start()
        return self

    def is_active(self) -> bool:
        return self._open

    def close(self) -> None:
        self._open = False

    def terminate(self) -> None: ...

    def _run(self, frames: int, callback: Callable[..., Any]) -> None:
        on_its_way = np.zeros(int(os.environ["ECHO_FRAMES"]), dtype=np.float32)
        gain = np.float32(os.environ.get("ECHO_GAIN", "1"))
        frame, clicked, begins = 0, -CALM_S * RATE_HZ, 0
        while self._open:
            heard, on_its_way = on_its_way[:frames], on_its_way[frames:]
            heard = np.pad(heard, (0, frames - len(heard))) * gain
            numbers = np.arange(frame, frame + frames) - begins
            here = (numbers >= 0) & (numbers < len(self._sound)) & (begins > 0)
            heard[here] += self._sound[numbers[here]]
            answer, _ = callback(heard.astype(np.float32).tobytes(), frames, {}, 0)
            played = np.frombuffer(answer, dtype=np.float32)
            on_its_way = np.concatenate((on_its_way, played))
            if played.any():
                if frame - clicked > CALM_S * RATE_HZ:
                    begins = frame + int(np.flatnonzero(played)[0]) + self._after
                clicked = frame
            frame += frames
            time.sleep(frames / RATE_HZ / SPEED)
