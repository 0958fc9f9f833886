"""A terminal gets tables and a sign of life; a pipe, a dumb terminal or one with NO_COLOR does not."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time

import pytest

from deskmend.cli import output
from deskmend.progress import listening, tell_progress

from .conftest import CASE, ROOT, run_program

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo terminals there")
ASSESS = ("assess", CASE)
AT_FIRST = ((CASE, 60, 0), ("--help", 60, 1))
"""Of what is shown in a narrow window, the first stage looks at these: last word, columns, plain or not."""


def at_terminal(*arguments: str, columns: int = 80, **environment: str) -> bytes:
    """What a terminal gets, both streams together."""
    import fcntl
    import pty
    import struct
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
    kept = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "NO_COLOR", "TERM")}
    child = subprocess.Popen(
        [sys.executable, "-m", "deskmend", *arguments],
        stdin=subprocess.DEVNULL,
        stdout=theirs,
        stderr=theirs,
        env={**kept, "PYTHONPATH": str(ROOT / "src"), "TERM": "xterm", **environment},
    )
    os.close(theirs)
    got = b""
    try:
        while piece := _read(ours):
            got += piece
    finally:
        child.wait(timeout=60)
        os.close(ours)
    return got.replace(b"\r\n", b"\n")


def _read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 65_536)
    except OSError:  # Linux tells the end of a terminal so
        return b""


def in_pipe(*arguments: str) -> bytes:
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "TERM": "xterm"}
    return subprocess.run(
        [sys.executable, "-m", "deskmend", *arguments], capture_output=True, check=True, env=environment
    ).stdout


def test_a_terminal_gets_ruled_tables() -> None:
    shown = at_terminal(*ASSESS)
    assert b"\x1b[1m" in shown
    assert "────".encode() in shown


@pytest.mark.thorough
@pytest.mark.parametrize("environment", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_plain_where_it_is_asked_for(environment: dict[str, str]) -> None:
    assert at_terminal(*ASSESS, "--quiet", **environment) == in_pipe(*ASSESS, "--quiet")


@pytest.mark.parametrize(
    ("arguments", "columns", "environment"),
    [
        pytest.param(
            arguments,
            columns,
            environment,
            marks=() if (arguments[-1], columns, len(environment)) in AT_FIRST else pytest.mark.thorough,
        )
        for environment in ({}, {"NO_COLOR": "1"})
        for arguments, columns in (
            (ASSESS, 80),
            (ASSESS, 60),
            (("plan", CASE, "--budget", "0", "--must", "keyboard_basic"), 60),
            (("plan", "--help"), 80),
            (("plan", "--help"), 60),
            (("--help",), 60),
        )
    ],
)
def test_no_line_is_wider_than_the_window(
    arguments: tuple[str, ...], columns: int, environment: dict[str, str]
) -> None:
    shown = re.sub(rb"\x1b\[[0-9;?]*[A-Za-z]", b"", at_terminal(*arguments, columns=columns, **environment))
    # a path that somebody typed is not broken
    lines = [line for line in shown.decode().splitlines() if " " in line.strip()]
    assert max(map(len, lines)) <= columns


def test_documents_stay_documents_at_a_terminal() -> None:
    document = ("catalog", "back_towel", "--json")
    assert at_terminal(*document) == run_program(*document).stdout_bytes


class Terminal:
    """Stands for stderr at a terminal, and keeps what is written."""

    encoding = "utf-8"

    def __init__(self) -> None:
        self.written = ""

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.written += text
        return len(text)

    def flush(self) -> None:
        """Nothing waits."""


def put_in_place(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """Put a terminal in the place of stderr; not as a fixture, since capture sets stderr anew after those."""
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(output, "TOLD_AFTER", 0.0)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    return stream


def wait_for(stream: Terminal, wanted: str) -> None:
    end = time.monotonic() + 30
    while wanted not in stream.written:
        assert time.monotonic() < end, stream.written
        time.sleep(0.01)


def test_long_work_shows_its_share_and_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = put_in_place(monkeypatch)
    with output.waiting("looking [bold]", quiet=False):
        wait_for(terminal, "looking [bold]")
        tell_progress(1, 4)
        wait_for(terminal, "25%")
    # the cursor comes back, and the line is wiped
    assert terminal.written.endswith("\x1b[?25h\r\x1b[1A\x1b[2K")


def test_quiet_and_dumb_terminals_are_told_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = put_in_place(monkeypatch)
    with output.waiting("looking", quiet=True):
        time.sleep(0.05)
    monkeypatch.setenv("TERM", "dumb")
    with output.waiting("looking", quiet=False):
        time.sleep(0.05)
    assert terminal.written == ""


def test_short_work_is_not_spoken_of(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = put_in_place(monkeypatch)
    monkeypatch.setattr(output, "TOLD_AFTER", 60.0)
    with output.waiting("looking", quiet=False):
        pass
    assert terminal.written == ""


def test_progress_is_told_to_the_inner_listener_alone() -> None:
    outer: list[tuple[int, int]] = []
    inner: list[tuple[int, int]] = []
    tell_progress(1, 2)
    with listening(lambda *told: outer.append(told)):
        with listening(lambda *told: inner.append(told)):
            tell_progress(3, 4)
        tell_progress(5, 6)
    assert (outer, inner) == ([(5, 6)], [(3, 4)])
