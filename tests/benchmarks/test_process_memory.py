"""What is measured of memory is there: a child's memory counts, and what has ended counts no more."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from process_memory import PROCESSES, alone, resident

HOLDS = 64 * 1024 * 1024
"""Bytes that the child holds."""


@pytest.mark.skipif(not PROCESSES.is_dir(), reason="this system does not tell the memory of processes")
def test_memory_of_children_is_added() -> None:
    before = resident(os.getpid())
    work = f"held = b'1' * {HOLDS}; print('ready', flush=True); input()"
    child = subprocess.Popen(
        [sys.executable, "-c", work], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "ready\n"
    alone_held, together = resident(child.pid), resident(os.getpid())
    child.communicate("\n")
    assert before is not None
    assert alone_held is not None
    assert together is not None
    assert alone_held >= HOLDS // 1024
    # this process may let go of a little meanwhile, but of far less than the child holds
    assert together - before > HOLDS // 1024 // 2
    assert resident(child.pid) is None


def test_no_answer_comes_from_a_process_that_dies() -> None:
    assert alone(abs, -3) == 3
    assert alone(os._exit, 3) is None
