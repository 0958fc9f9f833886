"""How sure each fix of a plan is, as the part ``sure`` of a plan's document."""

from __future__ import annotations

from typing import Any

from deskmend.planning.sure import Sure, SureFix
from deskmend.planning.sure_effects import AtEnd, FixKey, MeasureEffect
from deskmend.report.numbers import quantity_json, strain_json

__all__ = ["sure_document"]


def sure_document(sure: Sure) -> dict[str, Any]:
    """Write how sure each fix is.

    Parameters
    ----------
    sure : Sure
        For the money and time of the plan.

    Returns
    -------
    dict
        Counts are numbers of samples; strain in h/day, lengths in mm. ``loses`` is the strain lost by keeping
        to the plan; null: it cannot be kept to.
    """
    return {
        "samples": sure.samples,
        "seed": sure.seed,
        "without_plan": sure.without_plan,
        "same_fixes": sure.same_fixes,
        "fixes": [_fix(one) for one in sure.fixes],
        "measures": [_measure(effect) for effect in sure.measures],
        "measure_again": None if sure.again is None else _path(sure.again),
        "flips_between": None
        if sure.flip is None
        else sorted(quantity_json(value) or 0.0 for value in (sure.flip.stays_at, sure.flip.flips_at)),
    }


def _fix(one: SureFix) -> dict[str, Any]:
    return {
        "fix": one.fix.id,
        "for": one.owner[1] or None,
        "planned": one.planned is not None,
        "stays": one.stays,
        "sizes": [{"with": name, "samples": count} for name, count in one.sizes],
    }


def _path(effect: MeasureEffect) -> str:
    return ".".join(str(part) for part in effect.measure.path)


def _measure(effect: MeasureEffect) -> dict[str, Any]:
    measure = effect.measure
    return {
        "measure": _path(effect),
        "for": measure.owner or None,
        "value": quantity_json(measure.value),
        "estimated": measure.estimated,
        "ends": [_end(end) for end in effect.ends],
    }


def _end(end: AtEnd) -> dict[str, Any]:
    return {
        "value": quantity_json(end.value),
        "strain": None if end.strain is None else strain_json(end.strain),
        "kept": end.held.how,
        "loses": None if end.regret is None else strain_json(end.regret),
        "enters": [_name(key) for key in end.enters],
        "leaves": [_name(key) for key in end.leaves],
    }


def _name(key: FixKey) -> str:
    return f"{key[1][1]}.{key[0]}" if key[1][1] else key[0]
