"""Where a measured instrument is kept, and that it is written whole and not over another one."""

from __future__ import annotations

from pathlib import Path

import pytest

from livecheck.keeping.instrument import instrument_path, write_instrument


@pytest.mark.parametrize(
    ("named", "file"),
    [
        ("e9-ten-string", "e9-ten-string.toml"),
        ("my steels/Mine.toml", "Mine.toml"),
        ("c:\\steels\\own.toml", "own.toml"),
        ("♭", "-.toml"),
        ("../..", "...toml"),
    ],
)
def test_by_the_name_of_the_copedent_and_never_outside(tmp_path: Path, named: str, file: str) -> None:
    assert instrument_path(tmp_path, named) == tmp_path / "instruments" / file


def test_it_is_not_written_over_unless_asked(tmp_path: Path) -> None:
    path = tmp_path / "instruments" / "own.toml"
    write_instrument(path, "one", replace=False)
    with pytest.raises(FileExistsError):
        write_instrument(path, "two", replace=False)
    assert path.read_text(encoding="utf-8") == "one"
    write_instrument(path, "two", replace=True)
    assert path.read_text(encoding="utf-8") == "two"
    assert [one.name for one in path.parent.iterdir()] == ["own.toml"]
