"""A pickup that is a program: plays a sound file into what listens to JACK, in a process of its own.

    python -m tests.live.jack_player FILE

PortAudio's own client plays it, connected by `jack_connect` to the input of another PortAudio client, which it waits
for.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time

import numpy as np
import soundfile

PERIOD = 256
AFTER_S = 0.5


def _ports() -> set[str]:
    done = subprocess.run(["jack_lsp"], capture_output=True, text=True, check=True)
    return {name for name in done.stdout.split("\n") if name.startswith("PortAudio")}


def main() -> None:
    import pyaudio

    samples, rate_hz = soundfile.read(sys.argv[1], dtype="float32", always_2d=True)
    sound = np.concatenate([np.zeros(rate_hz, dtype=np.float32), samples[:, 0]])
    begins, ended = threading.Event(), threading.Event()
    at = 0

    def asked(_data: object, frames: int, *_: object) -> tuple[bytes, int]:
        nonlocal at
        part = sound[at : at + frames]
        if begins.is_set():
            at += frames
        if at > len(sound) + AFTER_S * rate_hz:
            ended.set()
        return np.pad(part, (0, frames - len(part))).tobytes(), pyaudio.paContinue

    there = _ports()
    port = pyaudio.PyAudio()
    infos = [port.get_device_info_by_index(index) for index in range(port.get_device_count())]
    jack = next(
        info["index"]
        for info in infos
        if info["maxOutputChannels"] and "JACK" in port.get_host_api_info_by_index(info["hostApi"])["name"]
    )
    port.open(
        rate=rate_hz,
        channels=1,
        format=pyaudio.paFloat32,
        output=True,
        output_device_index=jack,
        frames_per_buffer=PERIOD,
        stream_callback=asked,
    )
    while not (own := _ports() - there):
        time.sleep(0.05)
    (plays,) = (name for name in own if ":out" in name)
    (hears,) = (name for name in there if ":in" in name)
    subprocess.run(["jack_connect", plays, hears], check=True)
    begins.set()
    ended.wait()
    os._exit(0)  # closing a stream may wait for ever where its server is busy


if __name__ == "__main__":
    main()
