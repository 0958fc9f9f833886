"""A finished result is told and kept though it cannot be written where it should, for its owner alone."""

from __future__ import annotations

import os
import signal
import stat
import time
from pathlib import Path
from typing import NoReturn

import pytest
from click.testing import CliRunner

from deskmend.cli import deskmend as program
from deskmend.cli.output import clear_half_written, write_folder, write_folder_or_another
from deskmend.cli.program import _ended_like_an_interrupt
from deskmend.errors import InputFaults
from deskmend.grants import fund as grants_fund
from deskmend.grants.people.workers import People

from .fund_people import TABLE

FILES = {"a.csv": "id\n", "letters/letter_a.txt": "Hello\n"}
PRICES = str(TABLE.parent / "prices.csv")


def nothing() -> None:
    return None


def test_a_folder_about_people_is_for_its_owner_alone(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        write_folder(tmp_path / "out", FILES)
    finally:
        os.umask(before)
    modes = {one.name: stat.S_IMODE(one.stat().st_mode) for one in (tmp_path / "out").rglob("*")}
    assert modes == {"a.csv": 0o600, "letters": 0o700, "letter_a.txt": 0o600}
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o700


def test_what_a_killed_process_left_half_written_is_cleared_and_nothing_else(tmp_path: Path) -> None:
    names = (".out.x1.part", ".out.new.part", ".other.x1.part", ".out.x1.kept")
    for name in names:
        (tmp_path / name / "letters").mkdir(parents=True)
    long_ago = time.time() - 7200
    for name in names:
        if "new" not in name:
            os.utime(tmp_path / name, (long_ago, long_ago))
    clear_half_written(tmp_path / "out")
    assert sorted(one.name for one in tmp_path.iterdir()) == sorted(names[1:])


def test_another_folder_is_tried_then_one_of_our_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    there = tmp_path / "there"
    write_folder(there, FILES)
    answers = iter([str(tmp_path / "no" / "where"), str(tmp_path / "here"), None])
    path, faults = write_folder_or_another(there, FILES, lambda: next(answers))
    assert (path, len(faults)) == (tmp_path / "here", 2)
    path, faults = write_folder_or_another(there, FILES, nothing)
    assert path is not None
    assert path.name == "allocation"
    assert sorted(one.name for one in path.rglob("*.*")) == ["a.csv", "letter_a.txt"]
    assert len(faults) == 1


def shared_in(folder: Path, *more: str) -> tuple[int, str, str]:
    notes_and_two = (TABLE.parent / "six_people.csv").read_text(encoding="utf-8").splitlines()[:4]
    table = folder.parent / "people.csv"
    table.write_text("\n".join(notes_and_two) + "\n", encoding="utf-8")
    arguments = ["allocate", str(table), "--fund", "0", "--prices", PRICES, "--out", str(folder), *more]
    result = CliRunner().invoke(program, arguments)
    return result.exit_code, result.stdout, " ".join(result.stderr.split())


def test_a_result_that_cannot_be_written_is_told_and_stands_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder is taken by somebody else while the fund is shared."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    whole = grants_fund.share_fund

    def meanwhile(*given: object, **named: object) -> object:
        (tmp_path / "out").write_text("mine", encoding="utf-8")
        return whole(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(grants_fund, "share_fund", meanwhile)
    code, page, told = shared_in(tmp_path / "out")
    assert code == 2
    assert "0 of 2 people are given something" in page
    assert "is there already and is no folder" in told
    (kept,) = tmp_path.glob("deskmend-*/allocation")
    assert f"everything stands in {kept}" in told
    assert {"people.csv", "waiting.csv", "summary.json"} <= {one.name for one in kept.iterdir()}


def test_a_request_to_end_is_like_an_interrupt_and_nothing_known_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def ended(*_: object) -> NoReturn:
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(5)
        raise AssertionError("nobody heard the request")

    monkeypatch.setattr(People, "columns", ended)
    code, page, _ = shared_in(tmp_path / "out")
    assert (code, page, [one.name for one in tmp_path.iterdir()]) == (130, "", ["people.csv"])
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL


def test_a_request_to_end_that_comes_twice_is_heard_once() -> None:
    """What ends a group of processes may ask its leader twice; the best so far is still to be written."""

    def asked() -> None:
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(0.01)

    with _ended_like_an_interrupt():
        with pytest.raises(KeyboardInterrupt):
            asked()
        asked()


def test_a_folder_that_is_taken_is_refused_before_any_work(tmp_path: Path) -> None:
    write_folder(tmp_path / "out", FILES)
    with pytest.raises(InputFaults):
        write_folder(tmp_path / "out", FILES)
