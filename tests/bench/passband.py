"""What a loudspeaker or a small microphone loses of the lowest and the highest frequencies."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def loss(hz: NDArray[np.float64], low_hz: float, high_hz: float) -> NDArray[np.float64]:
    """The factor by which each frequency is softer than in the middle of a band; same shape.

    Amplitudes of Butterworth's filters ("On the theory of filter amplifiers", 1930): two poles below, four above.
    """
    return np.asarray(np.sqrt(1.0 + (low_hz / hz) ** 4) * np.sqrt(1.0 + (hz / high_hz) ** 8))
