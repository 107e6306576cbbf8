"""How much of each kind of dirt is mild, middle and harsh, and why: every number of the hard sets in one place.

Decibels of dirt are root mean square against the root mean square of the playing, where not said otherwise. The middle
is what a player's rig or a practice room commonly has; harsh is where an engineer would ask for another take (common
practice, no source, where none is named).
"""

from __future__ import annotations

from collections.abc import Mapping

LEVELS = ("mild", "middle", "harsh")

Numbers = Mapping[str, tuple[float, float, float]]

SOUND: Mapping[str, Numbers] = {
    # A delay unit's mix and feedback; 0.45 is where repeats begin to pile up. Its time is 200 to 600 ms.
    "delay": {"mix": (0.25, 0.35, 0.5), "feedback": (0.15, 0.3, 0.45)},
    # The same, the time a note value of the take, so that repeats fall on the next notes.
    "delay-in-time": {"mix": (0.25, 0.35, 0.5), "feedback": (0.15, 0.3, 0.45)},
    # Level of all that the springs give, and the time in which it falls by 60 dB. Tanks are sold as short, middle and
    # long: 1.2 to 2, 1.75 to 3, 2.75 to 4 s.
    "spring": {"wet_db": (-18.0, -12.0, -7.0), "fall_s": (1.2, 1.8, 2.8)},
    # A practice room, a studio, a hall (ISO 3382-2 measures them the same way).
    "reverb": {"wet_db": (-14.0, -10.0, -5.0), "fall_s": (0.5, 1.2, 2.2)},
    # How far the louder peaks go into a soft limiter: a warm, a driven, a distorted amplifier.
    "overdrive": {"drive": (1.0, 2.5, 7.0)},
    # Mains hum of 50 or 60 Hz with harmonics up to the ninth.
    "hum": {"hum_db": (-40.0, -28.0, -18.0)},
    "hiss": {"hiss_db": (-45.0, -33.0, -22.0)},
    # Bass, drums and chords from loudspeakers or other players in the room.
    "band": {"band_db": (-30.0, -20.0, -10.0)},
    # Loudest sample, in dB of full scale; written with 16 bits.
    "faint": {"peak_db": (-25.0, -40.0, -50.0)},
    # How far the loudest sample would be above full scale.
    "clipped": {"over_db": (2.0, 6.0, 14.0)},
    # A constant, as a share of full scale.
    "dc": {"offset": (0.02, 0.1, 0.3)},
    "mp3": {"kilobits": (160.0, 96.0, 64.0)},
    # Sampling rate of the file.
    "rate": {"kilohertz": (96.0, 22.05, 16.0)},
    # A phone's microphone: how loud the room is beside the direct sound, noise, and the band that is left.
    "phone": {
        "wet_db": (-12.0, -6.0, 0.0), "noise_db": (-45.0, -35.0, -25.0),
        "low_hz": (90.0, 150.0, 250.0), "high_hz": (12000.0, 8000.0, 5000.0),
    },
    # A compressor's threshold, below the loudest peak, and its ratio.
    "compressed": {"over_db": (12.0, 20.0, 30.0), "ratio": (2.0, 4.0, 8.0)},
    # Overdrive, and after it a cabinet.
    "amplified": {"drive": (0.7, 1.5, 4.0)},
    # A compressor, an amplifier with its cabinet, springs, mains hum and hiss in a chain.
    "rig": {
        "over_db": (10.0, 16.0, 24.0), "ratio": (2.0, 3.0, 6.0), "drive": (0.6, 1.2, 3.0),
        "wet_db": (-20.0, -16.0, -10.0), "fall_s": (1.2, 1.8, 2.8),
        "hum_db": (-46.0, -36.0, -24.0), "hiss_db": (-50.0, -40.0, -28.0),
    },
}  # fmt: skip

HABITS: Mapping[str, Numbers] = {
    # Half of the whole width. Up to 35 cents is heard from steel players.
    "vibrato": {"vibrato_cents": (15.0, 25.0, 35.0)},
    # How much longer than written a glide takes, and from how far below a pick's pitch is scooped up.
    "scooped": {"slowness": (0.3, 0.6, 1.0), "scoop_cents": (25.0, 45.0, 70.0), "scoop_s": (0.08, 0.12, 0.16)},
    # Semitones below the note from where a pick slides, and how long that takes.
    "grace": {"scoop_cents": (100.0, 100.0, 200.0), "scoop_s": (0.05, 0.08, 0.12)},
    # How far pedals may be before or after the bar where both move.
    "apart": {"apart_s": (0.02, 0.045, 0.07)},
    # Loudest sample of bar rattle and scraping strings, in dB of a pick's.
    "rattle": {"rattle_db": (-36.0, -26.0, -16.0)},
    # The same of muted strings that the picks brush.
    "muted": {"muted_db": (-26.0, -16.0, -8.0)},
    # From the first to the last string of a grip.
    "raked": {"rake_s": (0.02, 0.04, 0.06)},
    # How much all strings fall when pedals pull at the changer.
    "cabinet": {"cabinet_cents": (2.0, 5.0, 8.0)},
    # How far beats are away from a steady tempo within a figure.
    "rubato": {"rubato_s": (0.02, 0.035, 0.05)},
    # How often a figure is broken off and begun again, and the pause in between.
    "restart": {"restart_share": (0.3, 0.5, 0.7), "pause_s": (1.5, 0.8, 0.3)},
    # How often each figure is played.
    "again": {"times": (2.0, 2.0, 3.0), "pause_s": (1.5, 0.5, 0.0)},
    # The pause around a figure of another lesson.
    "intruder": {"intruders": (1.0, 2.0, 3.0), "pause_s": (1.5, 0.8, 0.3)},
    # How long a string takes to be faded in (set `swells`: how many are, is in `hands.py`).
    "swells": {"swell_s": (0.2, 0.35, 0.6)},
}  # fmt: skip


def at_level(table: Mapping[str, Numbers], kind: str, level: str) -> dict[str, float]:
    """The numbers of a kind at a level."""
    return {name: values[LEVELS.index(level)] for name, values in table[kind].items()}
