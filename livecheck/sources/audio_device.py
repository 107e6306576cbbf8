"""Audio inputs, by PyAudio: which there are, and hearing one, and speaking meanwhile. In the driver process only.

Sound is taken by a callback that does nothing but queue it. PortAudio's stream clock is not looked at: it is 0 or wrong
on several systems. Nothing is closed once a device has gone, as that can hang; the process just ends.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from queue import Empty, SimpleQueue
from threading import Event
from typing import Any

from livecheck.errors import Unusable
from livecheck.sources.choice import chosen
from livecheck.sources.driver_message import Begun, Block, Device, Message, Opened, Wanted
from livecheck.sources.mixer import Mixer

USUAL_RATES_HZ = (44_100, 48_000, 88_200, 96_000, 192_000)
BUFFERS_A_SECOND = 100
LOOK_S = 0.1
STALLED_S = 3.0
"""A device that gives nothing for so long has gone, whatever its driver says. Servers take up to 2 s to begin."""
_SHORT = {"JACK Audio Connection Kit": "JACK"}

NO_PYAUDIO = (
    "sound: PyAudio is not installed; get it with: pip install 'livecheck[live]' "
    "(on Linux it is built on the spot; Debian: apt-get install gcc python3-dev portaudio19-dev, first)"
)
NO_INPUT = (
    "sound: there is no audio input; plug in an interface or a microphone, or start a sound server "
    "(PipeWire, PulseAudio, JACK)"
)
NO_JACK = "sound by JACK: no server is running; start one if you want to use it (Debian: apt-get install jackd2)"


class Audio:
    """PortAudio, opened. Unusable if it is not there."""

    def __init__(self) -> None:
        try:
            import pyaudio
        except ModuleNotFoundError:
            raise Unusable(NO_PYAUDIO) from None
        except ImportError as error:
            raise Unusable(
                f"sound: PortAudio cannot be loaded ({error}); Debian: apt-get install libportaudio2"
            ) from None
        self._pyaudio = pyaudio
        try:
            self._port = pyaudio.PyAudio()
        except OSError as error:
            raise Unusable(f"sound: PortAudio does not start ({_said(error)}); is a sound system running?") from None

    def devices(self) -> list[Device]:
        """All inputs, in PortAudio's order."""
        return [device for _, device in self._inputs()]

    def missing(self) -> list[str]:
        """A sentence for everything that is not there."""
        systems = [self._port.get_host_api_info_by_index(i) for i in range(self._port.get_host_api_count())]
        has_jack = any(_system(info) == "JACK" and info["deviceCount"] for info in systems)
        may_have = self._pyaudio.paJACK in {info["type"] for info in systems} or "ALSA" in map(_system, systems)
        sentences = [] if self.devices() else [NO_INPUT]
        return sentences + ([NO_JACK] if may_have and not has_jack else [])

    def hear(self, wanted: Wanted, put: Callable[[Message], None], mixer: Mixer, ended: Event) -> None:
        """Give out `Opened`, then sound until it is `ended` or the device has gone; play what is mixed, if that is
        wanted. Unusable if it cannot be opened."""
        index, device = self._find(wanted.named)
        rate_hz = wanted.rate_hz or device.rate_hz
        if wanted.channel > device.channels:
            has = f"{device.channels} channel{'s' if device.channels > 1 else ''}"
            raise Unusable(f"{device.label}: has {has}; wanted channel {wanted.channel}")
        queue: SimpleQueue[tuple[bytes, int]] = SimpleQueue()

        def heard(data: bytes, frames: int, _time: Mapping[str, float], status: int) -> tuple[bytes | None, int]:
            queue.put((data, status))
            return mixer.next(frames, wanted.channel) if wanted.speaks else None, proceed

        proceed, overflow = self._pyaudio.paContinue, self._pyaudio.paInputOverflow
        try:
            stream = self._port.open(
                rate=rate_hz,
                channels=wanted.channel,
                format=self._pyaudio.paFloat32,
                input=True,
                input_device_index=index,
                output=wanted.speaks,
                output_device_index=self._output_beside(index) if wanted.speaks else None,
                frames_per_buffer=rate_hz // BUFFERS_A_SECOND,
                stream_callback=heard,
            )
        except (OSError, ValueError) as error:
            offers = ", ".join(map(str, device.rates_hz))
            why = f"cannot be opened at {rate_hz} Hz ({_said(error)}); it offers {offers} Hz"
            raise Unusable(f"{device.label}: {why}, if nothing else holds it") from None
        put(Opened(device.label, rate_hz, wanted.channel))
        waited_s = 0.0
        while waited_s < STALLED_S and not ended.is_set():
            try:
                data, status = queue.get(timeout=LOOK_S)
            except Empty:
                if not stream.is_active():
                    return
                waited_s += LOOK_S
                continue
            waited_s = 0.0
            put(Block(data, 1 if status & overflow else 0))
        if ended.is_set():
            stream.close()
            self._port.terminate()

    def speak(self, wanted: Wanted, put: Callable[[Message], None], mixer: Mixer, ended: Event) -> None:
        """Give out `Opened`, then play what is mixed by the default output until it is `ended` or the device has gone.
        Unusable if there is none at the rate that is wanted."""
        begun: SimpleQueue[float] = SimpleQueue()

        def played(_data: object, frames: int, *_: object) -> tuple[bytes, int]:
            if mixer.begins():
                begun.put(time.monotonic())
            return mixer.next(frames, 1), self._pyaudio.paContinue

        try:
            info = self._port.get_default_output_device_info()
            rate_hz = wanted.rate_hz or round(info["defaultSampleRate"])
            stream = self._port.open(
                rate=rate_hz,
                channels=1,
                format=self._pyaudio.paFloat32,
                output=True,
                frames_per_buffer=rate_hz // BUFFERS_A_SECOND,
                stream_callback=played,
            )
        except (OSError, ValueError) as error:
            raise Unusable(f"sound: there is no audio output that can be opened ({_said(error)})") from None
        system = _system(self._port.get_host_api_info_by_index(info["hostApi"]))
        put(Opened(f"{info['name']} ({system})", rate_hz, 1))
        latency_s = stream.get_output_latency()
        while stream.is_active() and not ended.is_set():
            with suppress(Empty):
                put(Begun(begun.get(timeout=LOOK_S) + latency_s))
        if ended.is_set():
            stream.close()
            self._port.terminate()

    def _find(self, named: str | None) -> tuple[int, Device]:
        inputs = self._inputs()
        if not inputs:
            raise Unusable(NO_INPUT)
        if named is None:
            return next((pair for pair in inputs if pair[1].is_default), inputs[0])
        wanted = chosen(named, [device for _, device in inputs], "audio input")
        return next(pair for pair in inputs if pair[1] is wanted)

    def _output_beside(self, index: int) -> int:
        """PortAudio's index of the output to play by: the input's own device, or its system's default output."""
        own = self._port.get_device_info_by_index(index)
        system = self._port.get_host_api_info_by_index(own["hostApi"])
        index = own["index"] if own["maxOutputChannels"] > 0 else system["defaultOutputDevice"]
        if index < 0:
            raise Unusable(f"{own['name']}: there is no audio output beside it; wanted one to play the click by")
        return int(index)

    def _inputs(self) -> list[tuple[int, Device]]:
        """PortAudio's index and the device."""
        try:
            default = self._port.get_default_input_device_info()["index"]
        except OSError:
            default = None
        infos = [self._port.get_device_info_by_index(index) for index in range(self._port.get_device_count())]
        return [(info["index"], self._device(info, default)) for info in infos if info["maxInputChannels"] > 0]

    def _device(self, info: dict[str, Any], default: int | None) -> Device:
        own_hz = round(info["defaultSampleRate"])
        offered = {rate_hz for rate_hz in USUAL_RATES_HZ if rate_hz == own_hz or self._offers(info["index"], rate_hz)}
        return Device(
            name=str(info["name"]),
            system=_system(self._port.get_host_api_info_by_index(info["hostApi"])),
            channels=info["maxInputChannels"],
            rate_hz=own_hz,
            rates_hz=tuple(sorted(offered | {own_hz})),
            latency_ms=1000.0 * info["defaultLowInputLatency"],
            is_default=info["index"] == default,
        )

    def _offers(self, index: int, rate_hz: int) -> bool:
        try:
            return bool(
                self._port.is_format_supported(
                    rate_hz, input_device=index, input_channels=1, input_format=self._pyaudio.paFloat32
                )
            )
        except ValueError:
            return False


def _system(info: Mapping[str, Any]) -> str:
    name = str(info["name"])
    return _SHORT.get(name, name)


def _said(error: Exception) -> str:
    """PortAudio's own words: PyAudio gives a text, a number and a text, or the other way round."""
    words = [str(part) for part in error.args if isinstance(part, str) and part]
    return words[0] if words else type(error).__name__
