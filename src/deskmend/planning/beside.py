"""Two workplaces side by side: what is the same in both, task by task and place by place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from deskmend.planning.assessment import Assessment
from deskmend.planning.explain import QuantityReading
from deskmend.workstation.fields import FIELDS, Level, Value
from deskmend.workstation.state import Owner, State

__all__ = ["Beside", "MeasurePair", "ReadingPair", "beside"]

Pair = tuple[str | None, str | None]
"""Names in the first and the second workplace; None where one has no such thing."""


@dataclass(frozen=True)
class MeasurePair:
    """One measure as both have it; None where one has no such thing."""

    level: Level
    owner: Pair
    name: str
    unit: str
    first: Value | None
    second: Value | None


@dataclass(frozen=True)
class ReadingPair:
    """One quantity of one task as both have it; None where it plays no part."""

    task: Pair
    first: QuantityReading | None
    second: QuantityReading | None

    @property
    def either(self) -> QuantityReading:
        """The reading there is."""
        one = self.first or self.second
        if one is None:
            raise ValueError("a quantity of neither")
        return one


@dataclass(frozen=True)
class Beside:
    """Two assessments and what in them belongs together."""

    first: Assessment
    second: Assessment
    tasks: tuple[Pair, ...]
    measures: tuple[MeasurePair, ...]
    quantities: tuple[ReadingPair, ...]

    @property
    def both(self) -> tuple[Assessment, Assessment]:
        """The two."""
        return self.first, self.second


def beside(first: Assessment, second: Assessment) -> Beside:
    """Put two assessments beside each other: tasks and places of one name belong together, then by order."""
    tasks = _paired(first.after.tasks, second.after.tasks)
    return Beside(
        first,
        second,
        tasks,
        tuple(_measures(first.after, second.after, tasks)),
        tuple(_readings(first.quantities, second.quantities, tasks)),
    )


def _paired(ours: Sequence[str], theirs: Sequence[str]) -> tuple[Pair, ...]:
    left = [one for one in theirs if one not in ours]
    out: list[Pair] = [(one, one if one in theirs else (left.pop(0) if left else None)) for one in ours]
    return (*out, *((None, one) for one in left))


def _measures(first: State, second: State, tasks: Sequence[Pair]) -> Iterator[MeasurePair]:
    places = _paired(first.places, second.places)
    owners: dict[Level, Sequence[Pair]] = {
        "person": [("", "")],
        "device": [("", "")],
        "place": places,
        "task": tasks,
    }
    for field in FIELDS.values():
        for owner in owners[field.level]:
            values = [
                None if name is None else _value(state, (field.level, name), field.name)
                for state, name in zip((first, second), owner, strict=True)
            ]
            if values != [None, None]:
                yield MeasurePair(field.level, owner, field.name, field.unit, *values)


def _value(state: State, owner: Owner, name: str) -> Value | None:
    if name.startswith("body."):
        return state.body[name.removeprefix("body.")]
    return state.values.get((owner, name))


def _readings(
    ours: Sequence[QuantityReading], theirs: Sequence[QuantityReading], tasks: Sequence[Pair]
) -> Iterator[ReadingPair]:
    for task in tasks:
        here, there = (
            {(one.name, one.of, one.mode): one for one in found if one.task == name}
            for found, name in zip((ours, theirs), task, strict=True)
        )
        for key in dict.fromkeys([*here, *there]):
            yield ReadingPair(task, here.get(key), there.get(key))
