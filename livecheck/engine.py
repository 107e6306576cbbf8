"""The one engine: blocks go in, a verdict comes out, for a device and for a file alike.

`AudioEngine` is fed mono samples in blocks of any size, `MidiEngine` timed messages; both hand what they heard
to the same alignment and judging. How the input is cut into blocks changes nothing in the verdict.
"""

from __future__ import annotations
