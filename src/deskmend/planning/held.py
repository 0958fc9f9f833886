"""The plans held: of the exact frontier only what can be told apart, without the lines that cannot.

The rungs of the frontier are climbed by cost, from nothing changed. A rung becomes the plan when it can be
told apart from the one held. Then lines are left out of it, those first without which least is left, as long
as what stays cannot be told from the rung and can still be told from the plan held before. So every plan is
told apart from the one before it, and no rung within its cost leaves less by a difference that can be told.
"""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.choice import Choice, evaluate
from deskmend.choice.result import best_choice
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.lines import Remains
from deskmend.planning.model.cut import CARRIED, carrier_name
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.prepared import Prepared
from deskmend.planning.rungs import Rung, checked
from deskmend.planning.selection import decision_of, key_of
from deskmend.progress import tell_progress

__all__ = ["climbed", "held_within", "nothing_changed"]


def nothing_changed(ready: Prepared) -> Rung | None:
    """The plan that leaves all as it stands; None where something must be done."""
    problem = ready.problem(None, None)
    as_it_is = {decision.name: decision.options[0].name for decision in problem.decisions}
    for option in ready.in_place:
        offered = next((one.options for one in problem.decisions if one.name == decision_of(option)), ())
        if all(one.name != option.name for one in offered):
            return None
        as_it_is[decision_of(option)] = option.name
        if option.fix.carried and carrier_name(option.fix.id) in as_it_is:
            as_it_is[carrier_name(option.fix.id)] = CARRIED
    scored = evaluate(problem, as_it_is)
    if scored.violations:
        return None
    return checked(ready, best_choice(problem, scored, "none"), 0, None)


def climbed(ready: Prepared, rungs: Sequence[Rung], minutes: Minutes | None) -> tuple[Rung, ...]:
    """Plans held on the way up the rungs: cost strictly rising, strain strictly falling.

    The first costs least of all: it changes nothing, or only what is free, or what must be.
    """
    noise, nothing = ready.noise, nothing_changed(ready)
    held: list[Rung] = []
    noise.know(rung.options for rung in rungs)
    for number, rung in enumerate(rungs):
        tell_progress(number, len(rungs))
        last = held[-1] if held else nothing
        if last is not None and not noise.told_apart(last.options, rung.options):
            continue
        plan = _Pruning(ready, rungs[: number + 1], held, nothing, minutes).run()
        while held and held[-1].cost >= plan.cost:
            held.pop()
        held.append(plan)
    if nothing is not None and (not held or held[0].cost > 0):
        held.insert(0, nothing)
    return tuple(held)


def held_within(held: Sequence[Rung], money: Minor | None) -> Rung | None:
    """The last plan held within a budget; None where what must be is dearer."""
    return next((plan for plan in reversed(held) if money is None or plan.cost <= money), None)


class _Pruning:
    """Leaves lines out of the last of some rungs."""

    def __init__(
        self,
        ready: Prepared,
        rungs: Sequence[Rung],
        held: Sequence[Rung],
        nothing: Rung | None,
        minutes: Minutes | None,
    ) -> None:
        self._ready, self._rungs, self._held, self._nothing = ready, rungs, held, nothing
        self._minutes = minutes

    def run(self) -> Rung:
        plan = self._rungs[-1]
        while True:
            shorter = self._shorter(plan)
            if shorter is None:
                return plan
            plan = shorter

    def _shorter(self, plan: Rung) -> Rung | None:
        """The plan without one of its lines, that without which least is left; None where all are needed."""
        remains = Remains(self._ready, plan, musts=True)
        found: list[tuple[int, str, Choice]] = []
        for option in plan.options:
            if option in self._ready.in_place:
                continue
            choice = remains.without([key_of(option)])
            if choice.found:
                found.append((choice.value, option.with_name, choice))
        found.sort(key=lambda one: one[:2])
        self._ready.noise.know(
            remains.options(choice)
            for _, _, choice in found
            if all(one is None or remains.strain(choice) < one.strain for one in self._before(choice.cost))
        )
        for _, _, choice in found:
            if self._may_stand(choice.cost, remains.strain(choice), remains.options(choice)):
                return checked(self._ready, choice, None, self._minutes)
        return None

    def _may_stand(self, cost: Minor, strain: Micro, options: Sequence[OptionSpec]) -> bool:
        """Whether a plan can be told from what is held, and no rung so far is better by what can be told."""
        noise = self._ready.noise
        if not all(
            one is None or (strain < one.strain and noise.told_apart(one.options, options))
            for one in self._before(cost)
        ):
            return False
        return not any(
            rung.strain < strain and noise.told_apart(rung.options, options) for rung in reversed(self._rungs)
        )

    def _before(self, cost: Minor) -> Sequence[Rung | None]:
        """Plans held that a plan of some cost has to be told from."""
        # a plan held that costs no less gives way, so the one below it is the one before then
        return [
            next(reversed(self._held), self._nothing),
            next((one for one in reversed(self._held) if one.cost < cost), self._nothing),
        ]
