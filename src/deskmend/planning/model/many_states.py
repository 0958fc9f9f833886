"""Strain and broken rules of many states at once: the same functions, on arrays with an axis for states.

A single state costs hundreds of calls of tiny functions. States of the same tasks and places share those
calls, and every state still gets what it would get alone: nothing here knows of any other state's numbers.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from deskmend.intake.catalog_records import Fix
from deskmend.planning.model.conditions import (
    ROLES,
    Gate,
    holds,
    levels_of,
    need_met,
    predicates_of,
    rule_contexts,
    symbol_of,
    values_of,
)
from deskmend.planning.model.rules import Breach, breaches, get_in_the_way
from deskmend.risk.severity import REGIONS
from deskmend.risk.strain import exposures, strain_terms
from deskmend.workstation.fields import FIELDS, SYMBOLS
from deskmend.workstation.graph import QUANTITIES, Evaluation
from deskmend.workstation.graph import ROLES as ALL_ROLES
from deskmend.workstation.state import Owner, Slot, State, owner_of

__all__ = ["StatesTogether", "breaches_of_many", "strain_of_many"]

Truths = npt.NDArray[np.bool_]
Chosen = Sequence[tuple[Fix, Owner]]


def strain_of_many(states: Sequence[State], weights: Sequence[Mapping[str, float]]) -> list[int]:
    """Strain of each state, as `deskmend.planning.score.score` gives it for one.

    Parameters
    ----------
    states : sequence of State
        Any states, n of them; those of the same tasks and places are worked out together.
    weights : sequence of mapping
        Region weight by region, for each state [-].

    Returns
    -------
    list of int
        n totals [millionths of h/day].

    Raises
    ------
    ValueError
        There are not as many weights as states.
    """
    if len(states) != len(weights):
        raise ValueError(f"weights: {len(weights)} of them for {len(states)} states")
    out = [0] * len(states)
    for members in _grouped(_layout(state) for state in states):
        block = StatesTogether([states[i] for i in members])
        for chosen in _grouped(_exposed(block)):
            part = block if len(chosen) == len(members) else StatesTogether([block.states[i] for i in chosen])
            indices = [members[i] for i in chosen]
            for index, total in zip(indices, _totals(part, [weights[i] for i in indices]), strict=True):
                out[index] = total
    return out


def breaches_of_many(
    before: Sequence[State], after: Sequence[State], chosen: Sequence[Chosen]
) -> list[list[Breach]]:
    """Rules that sets of fixes break, as `deskmend.planning.model.rules.breaches` gives them for one set.

    Parameters
    ----------
    before, after : sequence of State
        n states without and with the fixes.
    chosen : sequence of sequence of (Fix, Owner)
        The n sets of fixes.

    Returns
    -------
    list of list of Breach
        n lists, empty where all is well.

    Raises
    ------
    ValueError
        The three are not equally many.
    """
    if not len(before) == len(after) == len(chosen):
        raise ValueError(f"{len(before)} states before, {len(after)} after and {len(chosen)} sets of fixes")
    out: list[list[Breach]] = [[] for _ in after]
    layouts = [(_layout(one), _layout(other)) for one, other in zip(before, after, strict=True)]
    for members in _grouped(layouts):
        rules = _Rules(
            StatesTogether([before[i] for i in members]), StatesTogether([after[i] for i in members])
        )
        for position, index in enumerate(members):
            if rules.broken(position, chosen[index]):
                # Few break any: what they break is told by the function for one, in its words and order.
                out[index] = breaches(before[index], after[index], chosen[index])
    return out


def _grouped(keys: Iterable[Hashable]) -> list[list[int]]:
    """Positions of equal keys, in order of first appearance."""
    found: dict[Hashable, list[int]] = {}
    for position, key in enumerate(keys):
        found.setdefault(key, []).append(position)
    return list(found.values())


def _layout(state: State) -> Hashable:
    """What two states must have in common to be evaluated together."""
    return tuple(state.place_of.items()), state.places


class StatesTogether:
    """States of the same tasks and places, evaluated together: every value is an array of all of them.

    Parameters
    ----------
    states : sequence of State
        At least one.
    """

    def __init__(self, states: Sequence[State]) -> None:
        self.states = states
        self.first = states[0]
        self._fields: dict[Slot, npt.NDArray[Any]] = {}
        self._evaluations: dict[tuple[str, str], Evaluation[Any]] = {}

    def evaluation(self, task: str, place: str | None = None) -> Evaluation[Any]:
        """Quantities of one task, at its own place or another; made once."""
        at = self.first.place_of[task] if place is None else place
        if (task, at) not in self._evaluations:
            self._evaluations[task, at] = Evaluation(
                QUANTITIES,
                lambda symbol: self._symbol(symbol, task, at),
                lambda _key, function, arguments: function(*arguments),
                np.float64,
                lambda value: bool(np.all(value == 0)),
            )
        return self._evaluations[task, at]

    def field(self, slot: Slot) -> npt.NDArray[Any]:
        """Value of a field in each state."""
        if slot not in self._fields:
            values = [state.values[slot] for state in self.states]
            kind = np.float64 if FIELDS[slot[1]].is_number else np.str_
            self._fields[slot] = np.array(values, dtype=kind)
        return self._fields[slot]

    def _symbol(self, symbol: str, task: str, place: str) -> npt.NDArray[Any]:
        known = SYMBOLS[symbol]
        return self.field((owner_of(known.level, task, place), known.name))

    def least_clearance(self, place: str) -> npt.NDArray[np.float64]:
        """Free height over the legs that a plan has to leave [mm]: 0, or what there is now if less."""
        now = self.evaluation(self.first.tasks[0], place)("clearance")
        # Where nobody knows what room there is, 0 is kept to, as for one state.
        return np.where(now < 0.0, now, 0.0)

    def truths(self, value: Any) -> Truths:
        """One truth for each state, also where all share one."""
        return np.broadcast_to(np.asarray(value, dtype=np.bool_), len(self.states))


# --- strain --------------------------------------------------------------------------------------


def _exposed(block: StatesTogether) -> list[bytes]:
    """For each state which exposures have a share of the time, and how it stands and sits.

    An exposure without a share is left out, and what is left out may be nonsense, as the height of a screen
    that nobody has. So only states that leave out the same are summed together.
    """
    zero: list[Truths] = []
    for task in block.first.tasks:
        evaluation = block.evaluation(task)
        standing = evaluation("stand_share")
        zero += [block.truths(standing == 0.0), block.truths(standing == 1.0)]
        for share, roles in _shares():
            zero.append(block.truths(evaluation(share, **roles) == 0))
    return [row.tobytes() for row in np.stack(zero, axis=-1)] if zero else [b""] * len(block.states)


def _shares() -> list[tuple[str, dict[str, str]]]:
    """Shares of the time that exposures ask for, each once, with the roles they are asked in."""
    asked: dict[Hashable, tuple[str, dict[str, str]]] = {}
    for exposure in exposures():
        for case in (ALL_ROLES[exposure.role] if exposure.role else ("",)) if exposure.share else ():
            for mode in exposure.modes:
                roles = {"mode": mode} | ({exposure.role: case} if case else {})
                asked.setdefault((exposure.share, *sorted(roles.items())), (exposure.share, roles))
    return list(asked.values())


def _totals(block: StatesTogether, weights: Sequence[Mapping[str, float]]) -> list[int]:
    """Strain of states that leave out the same exposures [millionths of h/day]."""
    first = weights[0]
    if all(one == first for one in weights):
        by_region = first
    else:
        # An array stands in for the number: weights are only ever multiplied, state by state.
        columns = {region: np.array([one[region] for one in weights], dtype=np.float64) for region in REGIONS}
        by_region = cast("Mapping[str, float]", columns)
    total = np.zeros(len(block.states), dtype=np.int64)
    for task in block.first.tasks:
        evaluation = block.evaluation(task)
        standing = float(evaluation("stand_share")[0])
        modes = tuple(m for m, never in (("sit", 1.0), ("stand", 0.0)) if standing != never)
        for _, _, _, value in strain_terms(evaluation, by_region, modes):
            total += value
    return [int(one) for one in total]


# --- rules ---------------------------------------------------------------------------------------


class _Rules:
    """Which of a block's states break a rule, fix by fix and place by place, each worked out once for all.

    Parameters
    ----------
    before, after : StatesTogether
        The same people without and with their fixes.
    """

    def __init__(self, before: StatesTogether, after: StatesTogether) -> None:
        self.before, self.after = before, after
        # By identity: comparing two fixes reads all that stands behind them. Callers hold them all along.
        self._by_fix: dict[tuple[int, Owner], list[bool]] = {}
        self._squeezed = {
            place: self._squeezed_at(place) for place in dict.fromkeys(after.first.place_of.values())
        }

    def broken(self, position: int, chosen: Chosen) -> bool:
        """Whether a set of fixes breaks any rule in the state at a position."""
        owners = {owner for _, owner in chosen}
        return (
            any(self._of(fix, owner)[position] for fix, owner in chosen)
            or any(
                squeezed[position] and owners & {("place", place), ("person", ""), ("device", "")}
                for place, squeezed in self._squeezed.items()
            )
            or any(_has_rival(fix, owner, chosen) for fix, owner in chosen if fix.conflicts)
        )

    def _of(self, fix: Fix, owner: Owner) -> list[bool]:
        """Where a fix lacks what it needs, or is not for the state before."""
        key = id(fix), owner
        if key not in self._by_fix:
            self._by_fix[key] = (self._lacking(fix, owner) | self._not_for(fix, owner)).tolist()
        return self._by_fix[key]

    def _lacking(self, fix: Fix, owner: Owner) -> Truths:
        state = self.after.first
        out: Truths = np.zeros(len(self.after.states), dtype=np.bool_)

        def here(task: str) -> list[tuple[str, Gate | None]]:
            return [(state.place_of[task], None)]

        for need in fix.needs:
            asked = predicates_of(need)
            levels = {level for p in asked for level in levels_of(p.name)}
            for task, place, _ in rule_contexts(owner, levels, here, state):
                met = need_met(need, values_of(self.after.evaluation(task, place), asked))
                out = out | ~self.after.truths(met)
        return out

    def _not_for(self, fix: Fix, owner: Owner) -> Truths:
        state = self.before.first
        out: Truths = np.zeros(len(self.before.states), dtype=np.bool_)

        def here(task: str) -> list[tuple[str, Gate | None]]:
            return [(state.place_of[task], None)]

        for when in (caveat.when for caveat in fix.not_for if caveat.when is not None):
            for task, place, _ in rule_contexts(owner, levels_of(when.name), here, state):
                value = self.before.evaluation(task, place)(symbol_of(when.name), **ROLES)
                out = out | self.before.truths(holds(when, value))
        return out

    def _squeezed_at(self, place: str) -> list[bool]:
        """Where the legs no longer fit, though they fit before or fitted better."""
        after = self.after.evaluation(self.after.first.tasks[0], place)
        least = self.before.least_clearance(place)
        squeezed = (after("stand_share") < 1.0) & (after("clearance") < least)
        return [bool(one) for one in self.after.truths(squeezed)]


def _has_rival(fix: Fix, owner: Owner, chosen: Chosen) -> bool:
    return any(
        rival.id in fix.conflicts and (rival, other) != (fix, owner) and get_in_the_way(owner, other)
        for rival, other in chosen
    )
