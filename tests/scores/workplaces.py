"""States of shipped scenarios, and changes to them."""

from __future__ import annotations

from pathlib import Path

from deskmend.intake.case_file import load_case
from deskmend.workstation.fields import FIELDS, Value
from deskmend.workstation.state import DEVICES, PERSON, State, state_of

ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = sorted(path.parent.name for path in (ROOT / "scenarios").glob("*/case.yaml"))


def scenario(name: str) -> State:
    return state_of(load_case(ROOT / "scenarios" / name / "case.yaml"))


def changed(state: State, task: str | None = None, **values: Value) -> State:
    """State with fields set, written with two underscores for the point; one task and its place."""
    at = task or state.tasks[0]
    owners = {
        "person": PERSON,
        "device": DEVICES,
        "place": ("place", state.place_of[at]),
        "task": ("task", at),
    }
    slots = {}
    for written, value in values.items():
        name = written.replace("__", ".")
        slots[owners[FIELDS[name].level], name] = value
    return state.with_values(slots)
