"""Nothing heavy is loaded before it is needed: neither by ``import deskmend`` nor by ``deskmend --help``."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("numpy", "pandas", "pulp", "highspy", "pydantic", "yaml", "rich")
HELP = """
import runpy
sys.argv = ["deskmend", "--help"]
try:
    runpy.run_module("deskmend", run_name="__main__")
except SystemExit as ending:
    assert not ending.code, ending.code
"""


@pytest.mark.parametrize("code", ["import deskmend", HELP], ids=["import", "help"])
def test_start_loads_nothing_heavy(code: str) -> None:
    asked = f"import sys\n{code}\nprint([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    assert ("Usage: deskmend" in done.stdout) is (code is HELP)
