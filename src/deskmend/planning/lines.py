"""The lines of a plan: what each is worth, what goes with it, and what would do instead.

A line is what is done in one go: one fix, or a bundle of those that work only together. What it is worth is
what the same plan leaves more without it: nothing else is bought, made or switched on in its place, only
sizes are set anew, and what needs the line goes with it. So the figures of a plan do not add up: two lines
that serve the same end are worth little each, two that need each other the whole each.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from deskmend.choice import Choice, Problem, solve
from deskmend.choice.exhaustive import Exhaustive, TooMany
from deskmend.choice.narrowed import narrowed
from deskmend.choice.result import no_choice
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.order import in_set_up_order
from deskmend.planning.prepared import Prepared
from deskmend.planning.rungs import Rung, checked, priced_anew
from deskmend.planning.selection import FixKey, decision_of, key_of

__all__ = ["Instead", "Line", "Remains", "lines_of"]


@dataclass(frozen=True)
class Instead:
    """What would do instead of a line, so nearly that the two cannot be told apart.

    - `options`: what is done in its place.
    - `strain`: what the plan leaves with it.
    - `more`: what it costs beyond the plan, less than 0 where it is cheaper.
    """

    options: tuple[OptionSpec, ...]
    strain: Micro
    more: Minor


@dataclass(frozen=True, kw_only=True)
class Line:
    """What is done in one go.

    - `options`: in set-up order; several only of a bundle.
    - `head`: what the others of a bundle are for.
    - `leaving_out`: what the same plan leaves more without it.
    - `told`: whether that can be told, and is worth telling.
    - `along`: what else of the plan needs it, and goes with it.
    - `instead`: what would do as well; None where nothing would.
    """

    options: tuple[OptionSpec, ...]
    head: OptionSpec
    leaving_out: Micro
    told: bool
    along: tuple[OptionSpec, ...]
    instead: Instead | None

    @property
    def bundle(self) -> str | None:
        """Name of a bundle, that of its head without a size; None where there is one fix alone."""
        return self.head.with_name.partition("=")[0] if len(self.options) > 1 else None


class Remains:
    """What stays of a plan without some of its fixes, nothing bought beyond what the plan buys of it.

    What must be in a plan stays only with `musts`; without it may be left out like anything else.
    """

    def __init__(self, ready: Prepared, rung: Rung, musts: bool) -> None:
        self._ready = ready.only([key_of(option) for option in rung.options])
        packs = rung.choice.packs
        base = self._ready.problem(None, None) if musts else self._ready.base
        items = [replace(item, stock=packs.get(item.name, 0)) for item in base.items]
        self._asked = _Asked(replace(base, items=items))
        self._known: dict[frozenset[FixKey], Choice] = {}

    def without(self, fixes: Collection[FixKey]) -> Choice:
        """The best that stays without some fixes; nothing is found where a must hinders."""
        key = frozenset(fixes)
        if key not in self._known:
            out: dict[str, list[str]] = {}
            for option in self._ready.offers.options():
                if key_of(option) in key:
                    out.setdefault(decision_of(option), []).append(option.name)
            choice = self._asked.best(out)
            self._known[key] = priced_anew(self._ready, choice) if choice.found else choice
        return self._known[key]

    def options(self, choice: Choice) -> tuple[OptionSpec, ...]:
        """What a choice takes, in catalog order."""
        return self._ready.options_of(choice)

    def strain(self, choice: Choice) -> Micro:
        """Strain that a choice leaves."""
        return choice.value + self._ready.fixed_strain


class _Asked:
    """A problem that is asked again and again with fewer options: all at once where it is small."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        try:
            self._all: Exhaustive | None = Exhaustive(problem)
        except TooMany:
            self._all = None

    def best(self, without: Mapping[str, Collection[str]]) -> Choice:
        if self._all is not None:
            return self._all.best(without)
        left = {
            decision.name: [
                n for n, one in enumerate(decision.options) if one.name not in without[decision.name]
            ]
            for decision in self._problem.decisions
            if decision.name in without
        }
        fewer = narrowed(self._problem, left) if all(left.values()) else None
        return no_choice("reduction") if fewer is None else solve(fewer)


def lines_of(ready: Prepared, rung: Rung, money: Minor | None, minutes: Minutes | None) -> tuple[Line, ...]:
    """Lines of a plan, those first without which most is left.

    `money` and `minutes` are the limits within which something else may do instead.
    """
    taken = {key_of(option): option for option in rung.options}
    remains = Remains(ready, rung, musts=False)

    def along(group: frozenset[FixKey]) -> frozenset[FixKey]:
        stays = {key_of(option) for option in remains.options(remains.without(group))}
        return frozenset(taken) - stays - group

    groups = [frozenset([key]) for key in taken]
    needs = {group: along(group) for group in groups}
    asked = {*groups, *needs.values(), *(group | more for group, more in needs.items())}
    ready.noise.know([rung.options, *(remains.options(remains.without(each)) for each in asked if each)])
    while True:
        joined = next(
            (both for group in groups if (both := _joined(ready, remains, group, along(group)))), None
        )
        if joined is None:
            break
        inside = [group for group in groups if group & joined]
        groups = [group for group in groups if not group & joined]
        groups.append(frozenset().union(*inside))
    instead = _instead(ready, rung, groups, money, minutes)
    lines = []
    for group in groups:
        without = remains.without(group)
        options = in_set_up_order(taken[key] for key in group)
        lines.append(
            Line(
                options=options,
                head=_head(options, {key: needs[frozenset([key])] for key in taken}),
                leaving_out=remains.strain(without) - rung.strain,
                told=ready.noise.told_apart(remains.options(without), rung.options),
                along=in_set_up_order(taken[key] for key in along(group)),
                instead=instead.get(group),
            )
        )
    return tuple(sorted(lines, key=lambda line: (-line.leaving_out, line.head.with_name)))


def _joined(
    ready: Prepared, remains: Remains, group: frozenset[FixKey], along: frozenset[FixKey]
) -> frozenset[FixKey]:
    """A group and what goes with it, where it serves nothing else; else nothing.

    It serves nothing else where without the others it makes no difference that can be told.
    """
    if not along:
        return frozenset()
    others, both = remains.without(along), remains.without(along | group)
    if ready.noise.told_apart(remains.options(others), remains.options(both)):
        return frozenset()
    return along | group


def _head(options: Sequence[OptionSpec], needs: Mapping[FixKey, frozenset[FixKey]]) -> OptionSpec:
    """What the others of a bundle are for: what most of them take along when they go, the last to set up.

    Where that holds something at its own place, as a strap holds a roll, what it holds.
    """
    counts = [sum(key_of(one) in needs[key_of(other)] for other in options) for one in options]
    last = max(range(len(options)), key=lambda place: (counts[place], place))
    head = options[last]
    held = (o for o in options if o.fix.stage == head.fix.stage and key_of(head) in needs[key_of(o)])
    return next(held, head)


def _instead(
    ready: Prepared,
    rung: Rung,
    groups: Sequence[frozenset[FixKey]],
    money: Minor | None,
    minutes: Minutes | None,
) -> dict[frozenset[FixKey], Instead]:
    """For lines the best plan with rivals of theirs in their place, where it cannot be told from the plan."""
    ours = {key_of(option) for option in rung.options}
    found: list[tuple[frozenset[FixKey], Choice]] = []
    for group in groups:
        places = {decision_of(option) for option in rung.options if key_of(option) in group}
        offered = {key_of(option) for option in ready.offers.options() if decision_of(option) in places}
        if not offered - group:
            continue
        choice = _Asked(ready.only(ours - group | offered - group).problem(money, minutes)).best({})
        if choice.found and any(key_of(option) not in ours for option in ready.options_of(choice)):
            found.append((group, choice))
    ready.noise.know(ready.options_of(choice) for _, choice in found)
    out = {}
    for group, choice in found:
        if ready.noise.told_apart(rung.options, ready.options_of(choice)):
            continue
        there = checked(ready, priced_anew(ready, choice), money, minutes)
        new = tuple(option for option in there.options if key_of(option) not in ours)
        out[group] = Instead(new, there.strain, there.cost - rung.cost)
    return out
