"""The command line. Commands import what they need when they run, so that help costs next to nothing."""

from __future__ import annotations

from deskmend.cli.program import deskmend, main

__all__ = ["deskmend", "main"]
