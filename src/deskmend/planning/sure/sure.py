"""How sure a plan is: it is made again for many worlds that the measures, prices and limits may stand for.

Telling problems apart by all they hold, so that none is solved twice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from hashlib import sha256

from deskmend.choice import Choice, Problem, solve
from deskmend.errors import InputFaults
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.prices import PriceTable
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan_check import hindered
from deskmend.planning.prepared import NoPlan, Prepared, prepare
from deskmend.planning.sure.draws import ALL_ERRORS, Errors, draw
from deskmend.planning.sure.measures import FixKey, Flip, MeasureEffect, Replanner, key_of, measures_of
from deskmend.progress import tell_progress
from deskmend.risk.severity import moved_curves
from deskmend.workstation.state import Owner, State

__all__ = ["DEFAULT_SEED", "Sure", "SureFix", "fingerprint", "sure_of"]


def fingerprint(problem: Problem) -> bytes:
    """Digest of a problem; two problems with the same one have the same best choice.

    Parameters
    ----------
    problem : Problem
        Without side limits.
    """
    plain = (
        problem.decisions,
        problem.items,
        problem.forbidden,
        problem.money,
        problem.minutes,
        problem.first,
        problem.bounds,
    )
    digest = sha256(repr(plain).encode())
    for table in problem.tables:
        digest.update(repr((table.scope, table.when, table.values.shape, table.values.dtype.str)).encode())
        digest.update(table.values.tobytes())
    for node in problem.nodes:
        digest.update(repr((node.name, node.scope, node.size, node.index.shape)).encode())
        digest.update(node.index.tobytes())
    for mask in problem.masks:
        digest.update(repr((mask.scope, mask.implied, mask.allowed.shape)).encode())
        digest.update(mask.allowed.tobytes())
    return digest.digest()


DEFAULT_SEED = 1
"""Where chance begins unless somebody asks for another beginning."""


@dataclass(frozen=True)
class SureFix:
    """In how many samples a fix is part of the best plan.

    Attributes
    ----------
    fix : Fix
        The fix.
    owner : Owner
        Whom it is for.
    planned : OptionSpec or None
        As the plan holds it; None where it does not.
    stays : int
        Samples that hold it, at any size.
    sizes : tuple of (str, int)
        Samples that hold it, by what ``assess --with`` takes, the most frequent first.
    """

    fix: Fix
    owner: Owner
    planned: OptionSpec | None
    stays: int
    sizes: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Sure:
    """How sure the fixes of a plan are.

    Attributes
    ----------
    samples, seed : int
        How often it was planned again, and where chance began.
    without_plan : int
        Samples in which nothing keeps to the limits.
    same_fixes : int
        Samples with just the fixes of the plan, at any sizes.
    errors : Errors
        What was taken to be uncertain.
    fixes : tuple of SureFix
        Those of the plan, in its order, then the others that came up, the most frequent first.
    measures : tuple of MeasureEffect
        What each measure does when it alone is off, those with most at stake first.
    again : MeasureEffect or None
        The measure that is most worth taking again; None where keeping to the plan loses nothing, whichever
        single one is off.
    flip : Flip or None
        Where it changes the fixes; None where only sizes are others.
    """

    samples: int
    seed: int
    without_plan: int
    same_fixes: int
    errors: Errors
    fixes: tuple[SureFix, ...]
    measures: tuple[MeasureEffect, ...]
    again: MeasureEffect | None
    flip: Flip | None


def sure_of(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    money: int | None,
    minutes: int | None,
    samples: int,
    seed: int = DEFAULT_SEED,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    errors: Errors = ALL_ERRORS,
) -> Sure:
    """Plan again for worlds that the given figures may stand for, and count what stays.

    Parameters
    ----------
    case : Case
        The case.
    catalog : Catalog
        Fixes.
    prices : PriceTable
        What things cost, with the ends of what they may cost.
    money, minutes : int or None
        Limits of cost [minor units] and work [min], the same for every sample.
    samples : int
        How many.
    seed : int
        Where chance begins; the same seed gives the same answer on every machine.
    must, never : sequence of str
        Fixes that have to be, and must not be, in every plan.
    errors : Errors
        What is uncertain, and how much.

    Returns
    -------
    Sure
        Counts over samples, and what each measure does by itself.

    Raises
    ------
    ValueError
        Fewer than one sample, or a negative seed.
    NoPlan
        Nothing keeps to the limits as the case stands.
    deskmend.errors.InputFaults
        A wish cannot be understood.
    """
    if samples < 1 or seed < 0:
        raise ValueError(f"samples from 1 and seed from 0 are allowed, read {samples} and {seed}")

    def prepared(other: Case, state: State, table: PriceTable = prices) -> Prepared:
        return prepare(other, catalog, table, must, never, state)

    known: dict[bytes, Choice] = {}

    def solved(ready: Prepared) -> Choice:
        problem = ready.problem(money, minutes)
        mark = fingerprint(problem)
        if mark not in known:
            known[mark] = solve(problem)
        return known[mark]

    nominal = prepare(case, catalog, prices, must, never)
    choice = solved(nominal)
    if not choice.found:
        raise hindered(nominal, money, minutes, choice)
    options = nominal.options_of(choice)
    measures = measures_of(case, errors.tape, errors.estimates)
    whole = samples + len(measures)
    found: list[tuple[OptionSpec, ...] | None] = []
    for number in range(samples):
        tell_progress(number, whole)
        one = draw(case, prices, measures, errors, seed, number)
        with moved_curves(one.curves) if one.curves else nullcontext():
            try:
                ready = prepared(one.case, one.state, one.prices)
            except (NoPlan, InputFaults):  # what must be in the plan may not be on offer there
                found.append(None)
                continue
            answer = solved(ready)
        found.append(ready.options_of(answer) if answer.found else None)
    replanner = Replanner(case, options, prepared, solved, money, minutes)
    effects = []
    for number, measure in enumerate(measures):
        tell_progress(samples + number, whole)
        effects.append(replanner.effect(measure))
    effects.sort(
        key=lambda e: (not e.flips, *(-int(part) for part in e.stake), e.measure.path[0] != "person")
    )
    again = next((e for e in effects if e.flips and any(e.stake) and e.measure.can_be_taken), None)
    tell_progress(whole, whole)
    plans = [plan for plan in found if plan is not None]
    same = frozenset(key_of(option) for option in options)
    return Sure(
        samples,
        seed,
        found.count(None),
        sum(frozenset(key_of(option) for option in plan) == same for plan in plans),
        errors,
        counted(options, plans),
        tuple(effects),
        again,
        None if again is None else replanner.flip(again),
    )


def counted(options: Sequence[OptionSpec], plans: Sequence[Sequence[OptionSpec]]) -> tuple[SureFix, ...]:
    """Count in how many plans each fix stands, and at which sizes.

    Parameters
    ----------
    options : sequence of OptionSpec
        The plan asked about.
    plans : sequence of sequence of OptionSpec
        One a sample.

    Returns
    -------
    tuple of SureFix
        See `Sure`.
    """
    planned = {key_of(option): option for option in options}
    fixes = {key_of(option): option.fix for plan in (options, *plans) for option in plan}
    stays = Counter(key_of(option) for plan in plans for option in plan)
    sizes: dict[FixKey, Counter[str]] = {key: Counter() for key in fixes}
    for plan in plans:
        for option in plan:
            sizes[key_of(option)][option.with_name] += 1
    others = sorted((key for key in fixes if key not in planned), key=lambda key: (-stays[key], key))
    return tuple(
        SureFix(
            fixes[key],
            key[1],
            planned.get(key),
            stays[key],
            tuple(sorted(sizes[key].items(), key=lambda pair: (-pair[1], pair[0]))),
        )
        for key in (*planned, *others)
    )
