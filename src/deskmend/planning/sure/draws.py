"""Drawing what may be true behind what a case, a price table and the curves say: seeded, in whole units.

Every draw ends in whole millimetres, whole units of a curve and whole minor
units of money, so that no machine's last bit decides a plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from deskmend.errors import DefectError
from deskmend.intake.case import Case
from deskmend.intake.case_file import find_conflicts
from deskmend.intake.prices import PricedItem, PriceTable
from deskmend.planning.sure.measures import Measure, case_with, state_with_body
from deskmend.risk.severity import Curve, curves_with, end_ranges
from deskmend.workstation.body import DIMENSIONS, estimate_body, residual_covariance
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import State, state_of

__all__ = ["ALL_ERRORS", "Errors", "Sample", "conflicts_of", "draw", "drawn_prices", "residuals_given"]

MOST_TRIES = 1000
"""Draws of one sample until its lengths fit each other."""
STEPS = 1000
"""Steps between the low and the high price; bulk tiers move along with the price."""


@dataclass(frozen=True)
class Errors:
    """What is taken to be uncertain, as shares of the usual error [-]; 0: it holds.

    Attributes
    ----------
    tape : float
        Lengths that the case gives.
    estimates : float
        Body dimensions estimated from stature.
    curves : bool
        Whether the ends of severity curves move within their stated ranges.
    prices : bool
        Whether prices lie between their low and high ends.
    """

    tape: float = 1.0
    estimates: float = 1.0
    curves: bool = True
    prices: bool = True


ALL_ERRORS = Errors()


@dataclass(frozen=True)
class Sample:
    """One world that what is known may stand for."""

    case: Case
    state: State
    prices: PriceTable
    curves: Mapping[str, Curve]


def conflicts_of(case: Case) -> frozenset[tuple[str | int, ...]]:
    """Places in a case whose values contradict each other."""
    shown = case.model_dump(mode="json", include={"person", "places", "devices", "tasks"})
    return frozenset(conflict.loc for conflict in find_conflicts(shown))


def draw(
    case: Case,
    prices: PriceTable,
    measures: Sequence[Measure],
    errors: Errors,
    seed: int,
    number: int,
) -> Sample:
    """Draw one sample.

    Parameters
    ----------
    case : Case
        As given.
    prices : PriceTable
        As given.
    measures : sequence of Measure
        From `deskmend.planning.sure.measures.measures_of`, for the same errors.
    errors : Errors
        What is uncertain.
    seed, number : int
        Both together settle the sample, so the first of many samples are those of a few.

    Returns
    -------
    Sample
        Measured lengths uniform within their ends, estimated ones normal given stature and what is measured,
        ends of curves and prices uniform. Lengths that contradict each other are drawn again.

    Raises
    ------
    DefectError
        Nothing that fits was found.
    """
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, number])))
    given = conflicts_of(case)
    taken = [one for one in measures if not one.estimated]
    for _ in range(MOST_TRIES):
        offs = [int(rng.integers(-one.down, one.up, endpoint=True)) for one in taken]
        changed = case_with(case, {one.path: one.at(off) for one, off in zip(taken, offs, strict=True)})
        body = _drawn_body(changed, rng, errors.estimates)
        if body is not None and conflicts_of(changed) <= given:
            break
    else:
        raise DefectError("no sample whose lengths fit each other was found")
    ends = {}
    if errors.curves:
        ends = {
            (one.curve, one.end): float(rng.integers(one.low, one.high, endpoint=True))
            for one in end_ranges()
        }
    drawn = drawn_prices(prices, rng) if errors.prices else prices
    return Sample(changed, state_with_body(state_of(changed), body), drawn, curves_with(ends))


def _drawn_body(case: Case, rng: np.random.Generator, share: float) -> dict[str, float] | None:
    """Estimated dimensions of one possible body [mm]; None where one of them is out of all range."""
    if not share:
        return {}
    measured = {name: getattr(case.person.body, name, None) for name in DIMENSIONS}
    known = tuple(name for name in DIMENSIONS if measured[name] is not None)
    names = tuple(name for name in DIMENSIONS if measured[name] is None and f"body.{name}" in FIELDS)
    if not names:
        return {}
    fit = estimate_body(case.person.stature, case.person.sex, {})
    off = np.array([float(measured[name] or 0.0) - fit[name] for name in known])
    mean, factor = residuals_given(names, known, off, case.person.sex)
    normal = [float(one) for one in rng.standard_normal(len(names))]
    out = {}
    for row, name in enumerate(names):
        spread = sum(float(factor[row, k]) * normal[k] for k in range(row + 1))
        out[name] = float(round(fit[name] + share * (float(mean[row]) + spread)))
        field = FIELDS[f"body.{name}"]
        if not field.low <= out[name] <= field.high:
            return None
    return out


def residuals_given(
    names: tuple[str, ...], known: tuple[str, ...], off: npt.NDArray[np.float64], sex: str
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Residuals of some dimensions when those of others are known.

    Parameters
    ----------
    names, known : tuple of str
        Dimensions asked for, and those measured.
    off : ndarray, shape (k,)
        Measured less estimated from stature [mm].
    sex : str
        As in the case.

    Returns
    -------
    mean : ndarray, shape (n,)
        Expected residuals [mm].
    factor : ndarray, shape (n, n)
        Lower triangular; times its transpose it is their covariance [mm2]. Both to a millionth of a mm.

    Notes
    -----
    Multivariate normal residuals with the correlations of ``ansur_ii`` (published data); that they are normal
    is a judgement.
    """
    cov = residual_covariance((*names, *known), sex)
    count = len(names)
    own, cross, rest = cov[:count, :count], cov[:count, count:], cov[count:, count:]
    if known:
        weights = np.linalg.solve(rest, cross.T).T
        mean, own = weights @ off, own - weights @ cross.T
    else:
        mean = np.zeros(count)
    return np.round(mean, 6), np.round(np.linalg.cholesky((own + own.T) / 2.0), 6)


def drawn_prices(prices: PriceTable, rng: np.random.Generator) -> PriceTable:
    """Prices somewhere between their low and high ends [minor units].

    Parameters
    ----------
    prices : PriceTable
        As given; an item's bulk tiers lie as far up as its price.
    rng : Generator
        Where chance comes from.
    """
    items = {}
    for name, priced in prices.items.items():
        step = int(rng.integers(0, STEPS, endpoint=True))
        items[name] = _priced(priced, step)
    return replace(prices, items=items)


def _priced(priced: PricedItem, step: int) -> PricedItem:
    def between(low: int, high: int) -> int:
        return low + (high - low) * step // STEPS

    tiers = tuple(tier._replace(price=between(tier.low, tier.high)) for tier in priced.tiers)
    return replace(priced, price=between(priced.low, priced.high), tiers=tiers)
