"""What an engine answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from deskmend.choice.evaluate import Scored
    from deskmend.choice.problem import Problem

Status = Literal["optimal", "not_proven", "infeasible"]


class NothingFound(LookupError):
    """Asked for a figure of a result that holds no assignment."""


@dataclass(frozen=True)
class Figures:
    """The figures of one assignment.

    Parameters
    ----------
    value : int
        Sum of the tables [-].
    cost : int
        Cost of all items bought [minor units].
    minutes : int
        Work [min].
    fixes : int
        Options taken that count as fixes [-].
    packs : mapping of str to int
        Packs of each item bought; items not bought are left out [-].
    """

    value: int
    cost: int
    minutes: int
    fixes: int
    packs: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Choice:
    """The result of a search.

    Parameters
    ----------
    options : mapping of str to str
        {decision: option name}; empty when nothing was found.
    figures : Figures or None
        None when nothing was found.
    proven : bool
        Whether the answer is proven: best in all five levels of preference, or truly infeasible.
    bound : int or None
        Proven lower limit of what leads the order of preference: of the value, with ``first="cost"`` of
        the cost.  None: nothing known, or infeasible.
    status : {"optimal", "not_proven", "infeasible"}
        ``not_proven``: the best found within the effort allowed, if any.
    engine : str
        Which engine answered.
    """

    options: Mapping[str, str]
    figures: Figures | None
    proven: bool
    bound: int | None
    status: Status
    engine: str

    @property
    def found(self) -> bool:
        """Whether there is an assignment."""
        return self.figures is not None

    def _figures(self) -> Figures:
        if self.figures is None:
            raise NothingFound(f"no assignment was found: {self.status}")
        return self.figures

    @property
    def value(self) -> int:
        """Sum of the tables [-]; raises NothingFound when there is no assignment."""
        return self._figures().value

    @property
    def cost(self) -> int:
        """Cost of all items bought [minor units]; raises NothingFound when there is no assignment."""
        return self._figures().cost

    @property
    def minutes(self) -> int:
        """Work [min]; raises NothingFound when there is no assignment."""
        return self._figures().minutes

    @property
    def fixes(self) -> int:
        """Options taken that count as fixes [-]; raises NothingFound when there is no assignment."""
        return self._figures().fixes

    @property
    def packs(self) -> Mapping[str, int]:
        """Packs of each item bought [-]; raises NothingFound when there is no assignment."""
        return self._figures().packs


def choice_from(problem: Problem, scored: Scored, engine: str) -> Choice:
    """Turn an assignment proven best into a result.

    Parameters
    ----------
    problem : Problem
        Says what leads the order of preference.
    scored : Scored
        The assignment.
    engine : str
        Which engine proved it.

    Returns
    -------
    Choice
        Marked optimal.
    """
    return Choice(
        scored.options,
        figures_of(scored),
        proven=True,
        bound=scored.cost if problem.first == "cost" else scored.value,
        status="optimal",
        engine=engine,
    )


def figures_of(scored: Scored) -> Figures:
    """Take the figures of a scored assignment.

    Parameters
    ----------
    scored : Scored
        The assignment.

    Returns
    -------
    Figures
        The same numbers.
    """
    return Figures(scored.value, scored.cost, scored.minutes, scored.fixes, scored.packs)
