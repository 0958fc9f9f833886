"""Files that are no small text file are refused before they can do harm."""

import os
import sys
import tracemalloc
from pathlib import Path

import pytest

from deskmend.errors import InputFaults
from deskmend.intake.case_file import load_case
from deskmend.intake.prices import load_prices


def faults_of(path: Path | str) -> str:
    with pytest.raises(InputFaults) as case:
        load_case(path)
    with pytest.raises(InputFaults) as prices:
        load_prices(path)
    assert str(prices.value).splitlines()[0].split(";")[0] == str(case.value).splitlines()[0].split(";")[0]
    return str(case.value)


def write(folder: Path, content: bytes) -> Path:
    path = folder / "odd.yaml"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"\xef\xbb\xbf", "is empty"),
        (b" \n\n", "is empty"),
        (b"\x7fELF\x00\x01", "is a binary file"),
        ("title: x".encode("utf-16"), "is in UTF-16"),
        (b"title: ok\nnotes: \xe9t\xe9\n", ":2: is not in UTF-8"),
        (b"title: ok\nnotes: \x1b[2J\n", ":2: holds a control character"),
        ("a: b\nc: \u2028\n".encode(), ":2: holds a control character"),
        ("a: \ufeffb\n".encode(), ":1: holds a control character"),
        (b"a: \x85b\n", "is not in UTF-8"),
    ],
)
def test_content_that_is_no_text(tmp_path: Path, content: bytes, words: str) -> None:
    assert words in faults_of(write(tmp_path, content))


def test_a_hundred_megabytes_are_not_read(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    with path.open("wb") as stream:
        stream.truncate(100_000_000)
    tracemalloc.start()
    with pytest.raises(InputFaults) as case:
        load_case(path)
    with pytest.raises(InputFaults) as prices:
        load_prices(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "has 100 MB; allowed at most 1 MB" in str(case.value)
    assert "has 100 MB; allowed at most 5 MB" in str(prices.value)
    assert peak < 1_000_000


def test_folders_missing_files_and_odd_paths(tmp_path: Path) -> None:
    (tmp_path / "case.yaml").write_text("title: x\n")
    assert "is a folder" in faults_of(tmp_path)
    assert "did you mean case.yaml?" in faults_of(tmp_path / "cas.yaml")
    assert "folder does not exist" in faults_of(tmp_path / "nowhere" / "case.yaml")
    assert "not a usable path" in faults_of("a\x00b")
    assert "cannot be read" in faults_of(tmp_path / ("x" * 5000))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_pipes_and_devices_do_not_hang(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.yaml"
    os.mkfifo(pipe)
    assert "is a device or a pipe" in faults_of(pipe)
    assert "is a device or a pipe" in faults_of(os.devnull)


@pytest.mark.skipif(sys.platform == "win32", reason="needs links")
def test_a_loop_of_links(tmp_path: Path) -> None:
    loop = tmp_path / "loop.yaml"
    loop.symlink_to(loop)
    assert "cannot be read" in faults_of(loop)
