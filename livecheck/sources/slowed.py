"""A passage of a recording at another speed, its pitch kept.

In and out: mono float32 samples of one rate. The work is done by Rubber Band, through pedalboard.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.errors import Unusable

NO_PEDALBOARD = "another speed needs pedalboard, which is not installed; get it with: pip install 'livecheck[slow]'"


def slowed(samples: NDArray[np.float32], rate_hz: int, speed: float) -> NDArray[np.float32]:
    """`speed` is a share of the recording's own: 0.5 lasts twice as long. Unusable where the library is missing."""
    if speed == 1.0:
        return samples
    try:
        from pedalboard import time_stretch
    except ImportError:
        raise Unusable(NO_PEDALBOARD) from None
    wanted = round(len(samples) / speed)
    stretched = np.asarray(time_stretch(samples[None, :], float(rate_hz), stretch_factor=speed)[0], dtype=np.float32)
    return np.pad(stretched, (0, max(0, wanted - len(stretched))))[:wanted]
