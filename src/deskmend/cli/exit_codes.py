"""Exit codes of every command."""

from __future__ import annotations

DONE = 0
NO_PLAN = 1
"""No plan keeps to the limits."""
BAD_INPUT = 2
"""Faults in what was given."""
NOT_PROVEN = 3
"""Not proven best within the time allowed; plan and gap are shown."""
DEFECT = 70
"""A defect of ours."""
INTERRUPTED = 130
"""Stopped by the person at the keyboard."""
CLOSED = 141
"""Whoever read our output stopped reading."""
