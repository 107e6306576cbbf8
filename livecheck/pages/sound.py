"""Sound that a page carries: MP3 in a data URL, which every browser of today plays.

In: mono samples. Out: text for the `src` of an audio element. Of libsndfile's formats MP3 is the one that Chromium,
Firefox and Safari all play and that is small; a minute has about a quarter of a megabyte.
"""

from __future__ import annotations

import base64
import io

import numpy as np
from numpy.typing import NDArray

CLOSENESS = 0.6
"""libsndfile's compression level: about 30 kbit/s at 24 kHz, at which plucked strings keep their partials."""
PEAK = 0.7
"""Full scale is 1; takes are brought to one level, so that none is much louder than the other."""
LOUDEST_GAIN = 8.0
"""Of a very quiet take the noise would be all that is heard."""


def sound_url(samples: NDArray[np.float32], rate_hz: int) -> str:
    """Samples of shape (frames,) as a data URL."""
    import soundfile

    file = io.BytesIO()
    soundfile.write(
        file,
        samples,
        rate_hz,
        format="MP3",
        subtype="MPEG_LAYER_III",
        compression_level=CLOSENESS,
        bitrate_mode="VARIABLE",
    )
    return f"data:audio/mpeg;base64,{base64.b64encode(file.getvalue()).decode('ascii')}"


def levelled(samples: NDArray[np.float32], peak: float) -> NDArray[np.float32]:
    """Samples of a take, whose loudest sample is `peak`, at the level of a page."""
    gain = min(PEAK / peak, LOUDEST_GAIN) if peak > 0.0 else 1.0
    return np.asarray(np.clip(samples * np.float32(gain), -1.0, 1.0), dtype=np.float32)
