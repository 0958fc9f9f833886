"""What one measure being off does to a plan: whether others are best, and what keeping to it would cost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from deskmend.choice import Choice, solve
from deskmend.errors import InputFaults
from deskmend.intake.case import Case
from deskmend.planning.bill import bill_of
from deskmend.planning.breaches import breaches
from deskmend.planning.offers import KEEP, OptionSpec
from deskmend.planning.prepared import NoPlan, Prepared
from deskmend.planning.score import score
from deskmend.planning.selection import state_with
from deskmend.planning.sure_measures import Measure, case_with, state_with_body
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import Owner, State, state_of

__all__ = ["AtEnd", "FixKey", "Flip", "Held", "MeasureEffect", "Replanner", "key_of", "keys_of"]

FixKey = tuple[str, Owner]
"""Id of a fix and whom it is for, at whatever size."""

AS_PLANNED, RESIZED, IMPOSSIBLE = "as_planned", "other_sizes", "not_possible"


def key_of(option: OptionSpec) -> FixKey:
    """Fix and owner of an option."""
    return option.fix.id, option.owner


def keys_of(options: tuple[OptionSpec, ...]) -> frozenset[FixKey]:
    """Fixes of a plan, sizes aside."""
    return frozenset(key_of(option) for option in options)


@dataclass(frozen=True)
class Held:
    """The plan as it is, kept to where something else is true.

    Attributes
    ----------
    how : str
        ``as_planned``: with the same sizes; ``other_sizes``: the same fixes, at the sizes that are best
        there, where the planned ones are not allowed; ``not_possible``: not even so.
    strain : int or None
        What it leaves [millionths of h/day]; None where it is not possible.
    """

    how: str
    strain: int | None


@dataclass(frozen=True)
class AtEnd:
    """The best plan with one measure at one of its ends.

    Attributes
    ----------
    value : float
        The measure there [mm].
    strain : int or None
        What the best plan leaves there [millionths of h/day]; None where there is no plan.
    held : Held
        The plan as it is, there.
    enters, leaves : tuple of FixKey
        Fixes that only the best plan there, and only the plan as it is, holds.
    """

    value: float
    strain: int | None
    held: Held
    enters: tuple[FixKey, ...]
    leaves: tuple[FixKey, ...]

    @property
    def flips(self) -> bool:
        """Whether other fixes are best there."""
        return bool(self.enters or self.leaves)

    @property
    def regret(self) -> int | None:
        """Strain lost by keeping to the plan [millionths of h/day]; None where it cannot be kept to."""
        if self.strain is None or self.held.strain is None:
            return None
        return self.held.strain - self.strain


@dataclass(frozen=True)
class MeasureEffect:
    """What it does when one measure alone is off as far as it may be.

    Attributes
    ----------
    measure : Measure
        Which.
    ends : tuple of AtEnd
        Below, then above; an end that the measure cannot reach is left out.
    """

    measure: Measure
    ends: tuple[AtEnd, ...]

    @property
    def flips(self) -> bool:
        """Whether other fixes are best at one of its ends."""
        return any(end.flips for end in self.ends)

    @property
    def worst(self) -> AtEnd:
        """End at which most is lost by keeping to the plan."""
        return max(self.ends, key=lambda end: (end.regret is None, end.regret or 0, end.flips))

    @property
    def stake(self) -> tuple[bool, int]:
        """How much hangs on it: whether the plan may not be possible at all, then the largest regret."""
        regrets = [end.regret for end in self.ends]
        return None in regrets, max((one for one in regrets if one is not None), default=0)


@dataclass(frozen=True)
class Flip:
    """Where the fixes of the best plan change as one measure goes to an end.

    Attributes
    ----------
    stays_at, flips_at : float
        Neighbouring whole millimetres off: the fixes stay at the first and are others at the second [mm].
    """

    stays_at: float
    flips_at: float


class Replanner:
    """Plans a case anew with single measures off.

    Parameters
    ----------
    case : Case
        As given.
    options : tuple of OptionSpec
        Its plan.
    prepared : callable
        Makes a case and state ready; may raise `NoPlan`.
    solved : callable
        Gives the best choice within the limits.
    money, minutes : int or None
        The limits.
    """

    def __init__(
        self,
        case: Case,
        options: tuple[OptionSpec, ...],
        prepared: Callable[[Case, State], Prepared],
        solved: Callable[[Prepared], Choice],
        money: int | None,
        minutes: int | None,
    ) -> None:
        self._case, self._options, self._prepared, self._solved = case, options, prepared, solved
        self._money, self._minutes = money, minutes
        self._keys = keys_of(options)

    def effect(self, measure: Measure) -> MeasureEffect:
        """Plan with a measure at each of its ends."""
        offs = [-measure.down] * bool(measure.down) + [measure.up] * bool(measure.up)
        return MeasureEffect(measure, tuple(self.at(measure, off) for off in offs))

    def at(self, measure: Measure, off: int) -> AtEnd:
        """Plan with a measure off by so much [mm]."""
        value = measure.at(off)
        if measure.estimated:
            case = self._case
            state = state_with_body(state_of(case), {str(measure.path[-1]): value})
        else:
            case = case_with(self._case, {measure.path: value})
            state = state_of(case)
        try:
            ready = self._prepared(case, state)
        except (NoPlan, InputFaults):  # what must be in the plan may not be on offer there
            return AtEnd(value, None, Held(IMPOSSIBLE, None), (), tuple(sorted(self._keys)))
        choice = self._solved(ready)
        if not choice.found:
            return AtEnd(value, None, Held(IMPOSSIBLE, None), (), tuple(sorted(self._keys)))
        there = keys_of(ready.options_of(choice))
        return AtEnd(
            value,
            choice.value + ready.model.fixed_strain,
            self._held(ready),
            tuple(sorted(there - self._keys)),
            tuple(sorted(self._keys - there)),
        )

    def _held(self, ready: Prepared) -> Held:
        """Keep to the plan where another state is true."""
        same = self._same_options(ready)
        if same is not None:
            strain = self._strain_of(ready, same)
            if strain is not None:
                return Held(AS_PLANNED, strain)
        problem = ready.problem(self._money, self._minutes)
        offered = {key_of(option) for offer in ready.offers.decisions for option in offer.options}
        if not self._keys <= offered:
            return Held(IMPOSSIBLE, None)
        forbidden: list[dict[str, str | int]] = []
        for offer in ready.offers.decisions:
            kept = [option.name for option in offer.options if key_of(option) in self._keys]
            names = [KEEP, *(option.name for option in offer.options)]
            forbidden += [{offer.name: n} for n in names if n not in (kept or [KEEP])]
        choice = solve(replace(problem, forbidden=(*problem.forbidden, *forbidden)))
        if not choice.found:
            return Held(IMPOSSIBLE, None)
        return Held(RESIZED, choice.value + ready.model.fixed_strain)

    def _same_options(self, ready: Prepared) -> tuple[OptionSpec, ...] | None:
        """Options of the plan as they are offered there; None where one is not."""
        offered = {(o.name, o.owner): o for offer in ready.offers.decisions for o in offer.options}
        names = [(option.name, option.owner) for option in self._options]
        return tuple(offered[name] for name in names) if all(n in offered for n in names) else None

    def _strain_of(self, ready: Prepared, options: tuple[OptionSpec, ...]) -> int | None:
        """Strain that these very options leave; None where a rule or the money forbids them."""
        try:
            after = state_with(ready.state, options)
        except TwoSets:
            return None
        bill = bill_of(options, ready.case, ready.prices)
        if bill.missing or (self._money is not None and bill.total > self._money):
            return None
        if breaches(ready.state, after, [(o.fix, o.owner) for o in options]):
            return None
        return score(after, ready.weights).total

    def flip(self, effect: MeasureEffect) -> Flip | None:
        """Find where the fixes change, by halving, towards the worst end if they do there, else the other."""
        measure = effect.measure
        ends = sorted(effect.ends, key=lambda end: end is not effect.worst)
        offs = [round(end.value - measure.value) for end in ends if end.flips]
        if not offs:
            return None
        stays, flips = 0, offs[0]
        while abs(flips - stays) > 1:
            middle = (stays + flips) // 2
            if self.at(measure, middle).flips:
                flips = middle
            else:
                stays = middle
        return Flip(measure.at(stays), measure.at(flips))
