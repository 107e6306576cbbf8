"""Runs a general polyphonic transcriber on sound files: `python peer_transcriber.py FILE …`, JSON on the output.

It needs `basic-pitch` with `onnxruntime`, which wants other versions than this project, so an interpreter of its own.
Out comes for each file a list of notes [start_s, end_s, [pitch, …]], MIDI numbers with decimals, evenly spread in time.
"""

from __future__ import annotations

import importlib
import json
import os
import sys
from pathlib import Path


def main() -> None:
    kept = os.dup(1)
    os.dup2(2, 1)  # the transcriber prints its progress
    inference = importlib.import_module("basic_pitch.inference")
    model = inference.Model(Path(inference.__file__ or "").parent / "saved_models" / "icassp_2022" / "nmp.onnx")
    found = []
    for file in sys.argv[1:]:
        _, _, notes = inference.predict(file, model)
        found.append([[float(n[0]), float(n[1]), [n[2] + bend / 3.0 for bend in n[4] or [0]]] for n in notes])
    os.write(kept, json.dumps(found, default=float).encode())


main()
