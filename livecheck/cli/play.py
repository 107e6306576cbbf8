"""`livecheck play`: a lesson as it should sound, or a passage of a recording, slowly."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING

from livecheck.cli.output import put, say
from livecheck.cli.parser import counted, finite
from livecheck.cli.status import CLEAN
from livecheck.cli.written import check_outputs, write_new
from livecheck.errors import Unusable

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from livecheck.cli.parser import Subparsers
    from livecheck.sources.rendition import Click

    Sound = Callable[[int], NDArray[np.float32]]

FILE_RATE_HZ = 48_000
SLOWEST, FASTEST = 0.25, 2.0
"""Beyond these a stretched recording is of no use to the ear."""
LONGEST_S = 600.0
"""Of a passage, as it is played."""
SHORTEST_S = 0.25
OF_LESSONS = ("tempo", "figures", "click", "copedent", "midi")
OF_RECORDINGS = ("speed", "from_s", "to_s", "channel")


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "play",
        help="play a lesson as it should sound, or a recording slowly",
        usage="livecheck play LESSON [--tempo BPM] [options]\n"
        "       livecheck play RECORDING [--speed SHARE] [--from S] [--to S] [options]",
        description="Plays a lesson's figures as they should sound, at any tempo, after a bar of count-in; or a "
        "passage of a recording, slower or faster at the same pitch. By the default audio output, which needs the "
        "extra live, or into a file. Ctrl-C ends it.",
    )
    parser.add_argument("file", metavar="LESSON|RECORDING", help="a lesson file (.toml), or audio")
    parser.add_argument("--times", type=counted, default=1, metavar="N", help="play it so often, without a gap")
    parser.add_argument("--level", dest="level_db", type=finite, metavar="DB", help="below full scale (-20)")
    parser.add_argument("--out", metavar="FILE", help="write a WAV file instead of playing aloud")
    parser.add_argument("--overwrite", action="store_true", help="write over a file that is there")
    lesson = parser.add_argument_group("of a lesson")
    lesson.add_argument(
        "--figure", dest="figures", nargs="+", action="extend", default=None, metavar="NAME", help="only these figures"
    )
    lesson.add_argument("--tempo", type=finite, metavar="BPM", help="beats a minute, instead of the lesson's")
    lesson.add_argument(
        "--click", choices=("count-in", "all", "none"), help="a bar before it (the default), all through, or never"
    )
    lesson.add_argument("--copedent", metavar="FILE", help="your own instrument, its cents")
    lesson.add_argument("--midi", metavar="FILE", help="write a MIDI file with bends instead, string n on channel n")
    recording = parser.add_argument_group("of a recording")
    recording.add_argument("--speed", type=finite, metavar="SHARE", help="0.5 is half as fast (1)")
    recording.add_argument("--from", dest="from_s", type=finite, metavar="S", help="where the passage begins")
    recording.add_argument("--to", dest="to_s", type=finite, metavar="S", help="where it ends")
    recording.add_argument("--channel", type=counted, metavar="N", help="the only channel to play, from 1")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Play it, or write it; the exit status."""
    from livecheck.sources.click import LEVEL_DB, LOUDEST_DB

    args.level_db = LEVEL_DB if args.level_db is None else args.level_db
    if args.level_db > LOUDEST_DB:
        raise Unusable(f"--level is {args.level_db:g}; wanted {LOUDEST_DB:g} dB at most, such as {LEVEL_DB:g}")
    is_lesson = args.file.endswith(".toml")
    _check_own(args, OF_RECORDINGS if is_lesson else OF_LESSONS, "a lesson" if is_lesson else "a recording")
    outputs = {f"--{name}": path for name in ("out", "midi") if (path := getattr(args, name)) is not None}
    check_outputs(outputs, [args.file], args.overwrite)
    if is_lesson:
        return _lesson(args)
    sound, rate_hz = _recording(args)
    return _play(args, sound, rate_hz)


def _check_own(args: argparse.Namespace, others: tuple[str, ...], what: str) -> None:
    for name in others:
        if getattr(args, name) is not None:
            option = {"from_s": "from", "to_s": "to", "figures": "figure"}.get(name, name)
            raise Unusable(f"--{option} is not for {what}, which {args.file} is")


def _lesson(args: argparse.Namespace) -> int:
    from livecheck.cli.figures import asked_for
    from livecheck.sources.rendition import rendition

    lesson, figures = asked_for(args.file, args.figures or [], args.copedent, args.tempo)
    beats_a_bar = int(lesson.meter.partition("/")[0])
    click: Click = args.click or "count-in"
    beats = sum(float(figure.length) for figure in figures) + (0 if click == "none" else beats_a_bar)
    _check_length(beats * lesson.beat_s)
    if args.midi is not None:
        from livecheck.sharing.bend_midi import lesson_midi

        write_new("--midi", args.midi, lesson_midi(lesson, figures), args.overwrite)
        put(f"Written: {args.midi}\n")
        if args.out is None:
            return CLEAN

    def sound(rate_hz: int) -> NDArray[np.float32]:
        return rendition(figures, lesson.copedent, lesson.tempo, beats_a_bar, rate_hz, args.level_db, click)

    return _play(args, sound, FILE_RATE_HZ)


def _recording(args: argparse.Namespace) -> tuple[Sound, int]:
    import numpy as np

    from livecheck.cli.passage import passage
    from livecheck.sources.audio_file import open_audio
    from livecheck.sources.example import at_level
    from livecheck.sources.slowed import slowed
    from livecheck.sources.take_file import is_midi

    if is_midi(args.file):
        raise Unusable(f"{args.file}: is a MIDI file; wanted a lesson or audio")
    speed = 1.0 if args.speed is None else args.speed
    if not SLOWEST <= speed <= FASTEST:
        raise Unusable(f"--speed is {speed:g}; wanted {SLOWEST:g} to {FASTEST:g}, 1 being as it was played")
    audio = open_audio(args.file, args.channel)
    for note in audio.notes:
        say(f"{args.file}: {note}")
    blocks, lasts_s = passage(audio, args.file, args.from_s, args.to_s)
    _check_length(lasts_s / speed)
    samples = at_level(slowed(np.concatenate(list(blocks)), audio.rate_hz, speed), args.level_db)

    def sound(rate_hz: int) -> NDArray[np.float32]:
        import soxr

        return samples if rate_hz == audio.rate_hz else np.asarray(soxr.resample(samples, audio.rate_hz, rate_hz))

    return sound, audio.rate_hz


def _check_length(lasts_s: float) -> None:
    if lasts_s > LONGEST_S:
        raise Unusable(f"that lasts {lasts_s / 60.0:.1f} minutes; wanted {LONGEST_S / 60.0:.0f} at most at a time")


def _play(args: argparse.Namespace, sound: Sound, rate_hz: int) -> int:
    """Aloud, or into a file."""
    if args.out is None:
        from livecheck.cli.aloud import play_aloud

        put("Played.\n" if play_aloud(sound, args.times) else "Ended.\n")
        return CLEAN
    import numpy as np

    from livecheck.sources.wav import wav_bytes

    samples = sound(rate_hz)
    _check_length(args.times * len(samples) / rate_hz)
    write_new("--out", args.out, wav_bytes(np.tile(samples, args.times), rate_hz), args.overwrite)
    put(f"Written: {args.out}\n")
    return CLEAN
