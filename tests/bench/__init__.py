"""A benchmark: takes whose truth is known, and how near livecheck's reports come to it.

    python -m tests.bench make --set grips --seed 0 --count 3 --out DIR   lesson.toml, take.wav, take.mid, truth.json
    python -m tests.bench score --sets all --seeds 0-9 --instrument steel,midi --room dry,echo --jobs 2
    python -m tests.bench score --unseen                                  seeds and instruments nothing was tuned on
    python -m tests.bench hard --level middle --jobs 2 --pictures DIR     dirty sound and unruly playing, set by set
    python -m tests.bench peers                                           general pitch tools on the same held notes
    python -m tests.bench speed                                           the whole command, on one core and on all

A lesson is made by chance (`lessons`), a player performs it (`performance`) with slips of hand and foot (`slips`,
`planting`), the truth is read off the performance (`truth`), not off the sound, and the sound is made from recorded
notes of known pitch (`bank`, `render`, `room`). `score` compares.

It needs FluidSynth and the soundfont FluidR3 (Debian: fluidsynth, fluid-soundfont-gm); the instrument `electric` needs
recorded notes, whose folder LIVECHECK_NOTES names; the transcriber among the peers needs an interpreter that has it,
named by LIVECHECK_PEER_PYTHON. The instrument `computed` needs nothing.
"""
