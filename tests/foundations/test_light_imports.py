"""Foundations and prices stay light: no pydantic and no pandas behind them."""

import subprocess
import sys

import pytest


@pytest.mark.parametrize("module", ["deskmend.errors", "deskmend.measures", "deskmend.intake.prices"])
def test_nothing_heavy_is_imported(module: str) -> None:
    code = f"import sys, {module}; print([m for m in ('pydantic', 'pandas', 'numpy') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
