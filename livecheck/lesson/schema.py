"""JSON Schemas of the lesson and copedent files, for editors that complete and check TOML.

Made from the structs of `livecheck.lesson.document`, so that they cannot say anything else. The published copies are
written by

    python -m livecheck.lesson.schema configs/schemas
"""

from __future__ import annotations

import sys
from pathlib import Path

import msgspec

from livecheck.lesson.document import CopedentFile, LessonFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"
FILES: dict[str, type[msgspec.Struct]] = {"copedent.schema.json": CopedentFile, "lesson.schema.json": LessonFile}


def schema_text(kind: type[msgspec.Struct]) -> str:
    """The JSON Schema (draft 2020-12) of a file of a kind, as text that ends with a newline."""
    schema = {"$schema": DIALECT, **msgspec.json.schema(kind)}
    return msgspec.json.format(msgspec.json.encode(_without_null(schema)), indent=2).decode() + "\n"


def _without_null(node: object) -> object:
    """TOML has no null: what may be None in a struct is a key that may be left out of a file."""
    if isinstance(node, list):
        return [_without_null(item) for item in node if item != {"type": "null"}]
    if not isinstance(node, dict):
        return node
    kept = {key: _without_null(value) for key, value in node.items() if not (key == "default" and value is None)}
    options = kept.get("anyOf")
    if isinstance(options, list) and len(options) == 1:
        del kept["anyOf"]
        return {**options[0], **kept}
    return kept


if __name__ == "__main__":
    for name, kind in FILES.items():
        Path(sys.argv[1], name).write_text(schema_text(kind), encoding="utf-8")
