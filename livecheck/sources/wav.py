"""Samples as the bytes of a WAV file of 16 bits."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray


def wav_bytes(samples: NDArray[np.float32], rate_hz: int) -> bytes:
    """`samples`: mono, full scale 1; what lies beyond is cut off."""
    import soundfile

    out = io.BytesIO()
    soundfile.write(out, np.clip(samples, -1.0, 1.0), rate_hz, format="WAV", subtype="PCM_16")
    return out.getvalue()
