"""Whether something can be kept in a folder, asked before there is anything to keep."""

from __future__ import annotations

from pathlib import Path

import pytest

from livecheck.keeping.folder import check_place


def test_a_folder_that_is_not_there_yet_will_do_and_is_not_made(tmp_path: Path) -> None:
    check_place(tmp_path / "one" / "two")
    check_place(tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("below", ["", "below", "below/further"])
def test_a_file_in_the_way_will_not(tmp_path: Path, below: str) -> None:
    (tmp_path / "file").write_text("in the way", encoding="ascii")
    with pytest.raises(NotADirectoryError):
        check_place(tmp_path / "file" / below)
