"""What pictures tell of a workplace: measures, the posture seen beside the one expected, RULA of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np

from deskmend.intake.case import Case, values_at
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.records import GivenMeasure
from deskmend.language import tr
from deskmend.measures import Deg, Micro
from deskmend.picture.doubts import Doubt
from deskmend.picture.measured import MEASURES
from deskmend.picture.measuring import (
    REPLACED,
    Merged,
    PictureMeasure,
    PictureMeasures,
    SeenAngles,
    ToTape,
    measure_pictures,
    merge,
)
from deskmend.picture.scene import NORMAL_95
from deskmend.planning.draws import Noise, UncertainLength
from deskmend.planning.plan import planned
from deskmend.planning.ready_case import NoPlan, prepare
from deskmend.planning.score import weights_of
from deskmend.risk import rula
from deskmend.risk.scores.method import TWISTED_OVER, is_yes
from deskmend.risk.scores.methods.rula_of_task import (
    UNSEEN,
    UPRIGHT_NECK,
    UPRIGHT_NECK_SD,
    Unseen,
    observed_items,
)
from deskmend.risk.severity import curves
from deskmend.workstation.graph import ROLES, Array, Evaluation
from deskmend.workstation.state import State, evaluate, state_of

__all__ = [
    "AngleBeside",
    "ObservedPosture",
    "ObservedRula",
    "Pictured",
    "PicturedTask",
    "PlanTape",
    "TapeForPlan",
    "measure_workplace",
    "observed_posture",
    "plan_tape",
]

LEAST_TOLD: Deg = 5.0
"""Difference under which no picture tells one posture from another: what the craniovertebral angle of one
person differs by between two pictures (10.3390/ijerph17186521, published)."""
STANDS_OVER: Deg = 140.0
"""Angle at the hip over which somebody pictured stands [deg] (judgement)."""
DRAWS, SEED = 4000, 1
"""Postures drawn from what was seen, always the same, to tell between which scores the true one lies."""

EXPECTED: Mapping[str, tuple[str, float]] = {
    "trunk_angle": ("trunk_lean", 0.0),
    "neck_angle": ("neck_flexion", UPRIGHT_NECK),
    "arm_to_trunk_angle": ("shoulder_flexion", 0.0),
    "elbow_angle": ("elbow_angle", 0.0),
    "wrist_extension": ("wrist_extension", 0.0),
    "hip_angle": ("hip_angle", 0.0),
    "knee_angle": ("knee_angle", 0.0),
}
"""Quantity of the model that answers to each angle seen, and what lies between the two lines [deg]."""
SITTING_ONLY = ("hip_angle", "knee_angle")
NOT_WRITING = ("wrist_extension",)
"""What the model knows of keys and mouse alone."""

SCORED: Mapping[str, str] = {
    "arm_to_trunk": "arm_to_trunk_angle",
    "elbow_angle": "elbow_angle",
    "neck_angle": "neck_angle",
    "trunk_angle": "trunk_angle",
}
"""Angles without which RULA cannot be scored."""
SCORED_IF_SEEN: Mapping[str, str] = {"wrist_extension": "wrist_extension", "hip_angle": "hip_angle"}
"""Angles that are assumed where they are not seen."""


@dataclass(frozen=True)
class PicturedTask:
    """What the model takes the person in the picture to be doing: what the place is mostly used for."""

    task: str
    hands: str
    eyes: str
    mode: Literal["sit", "stand"]


@dataclass(frozen=True)
class AngleBeside:
    """One angle as it was seen, and as the model expects it."""

    name: str
    seen: Deg
    seen_sd: Deg
    expected: Deg | None = None
    expected_sd: Deg = 0.0

    @property
    def difference(self) -> Deg | None:
        """What was seen less what is expected."""
        return None if self.expected is None else self.seen - self.expected

    @property
    def beyond_both(self) -> bool:
        """Whether they differ by more than both may be off, and by what a picture can tell."""
        by = 0.0 if self.difference is None else abs(self.difference)
        return by > max(LEAST_TOLD, NORMAL_95 * float(np.hypot(self.seen_sd, self.expected_sd)))


@dataclass(frozen=True)
class ObservedRula:
    """RULA of the posture that was seen."""

    score: rula.RulaScore
    low: int
    high: int
    """Grand scores between which the true one lies in 95 of 100 cases, if what is assumed holds."""
    items: Mapping[str, int]
    unseen: Mapping[str, bool | int | float]
    """What no view from the side shows, as it was taken; what the picture does not show besides."""
    of_case: frozenset[str]
    """Which of these the case tells; the others are assumed."""


@dataclass(frozen=True)
class ObservedPosture:
    """Posture in a picture."""

    doing: PicturedTask | None
    """None without a case, or where the place has no task."""
    angles: tuple[AngleBeside, ...]
    rula: ObservedRula | None
    missing: tuple[str, ...]
    """Points without which RULA cannot be scored."""


def observed_posture(
    told: PictureMeasures, case: Case | None = None, place: str | None = None
) -> ObservedPosture:
    """Hold what was seen against what the model expects at a place of a case, and score it.

    Without a case nothing is expected, and all that is not seen is assumed.
    """
    seen = told.angles
    doing, expected = None, {}
    unseen, of_case = Unseen(), frozenset[str]()
    if case is not None and place is not None:
        state = state_of(case)
        doing = _doing(state, case, place, seen)
        if doing is not None:
            expected = _expected(case, state, doing)
            unseen = _unseen(evaluate(state, doing.task), doing)
            of_case = frozenset(UNSEEN)
    sds = np.sqrt(np.maximum(np.diag(seen.covariance), 0.0)).tolist()
    angles = tuple(
        AngleBeside(name, value, sd, *expected.get(name, ()))
        for name, value, sd in zip(seen.names, seen.values.tolist(), sds, strict=True)
        if name != "seat_slope"
    )
    wanting = [name for name in SCORED.values() if name not in seen.names]
    marked = frozenset(name for shot in told.shots for name in shot.marks.marked)
    missing = dict.fromkeys(point for name in wanting for point in MEASURES[name].missing(marked))
    scored = None if wanting else _rula(seen, expected, unseen, of_case)
    return ObservedPosture(doing, angles, scored, tuple(missing))


def _doing(state: State, case: Case, place: str, seen: SeenAngles) -> PicturedTask | None:
    """The longest task at the place, what hands and eyes do most in it, sitting or standing as seen."""
    here = [task for task in case.tasks if state.place_of[task.id] == place]
    if not here:
        return None
    task = max(here, key=lambda one: evaluate(state, one.id)("task_hours")).id
    evaluation = evaluate(state, task)

    def most(share: str, role: str) -> str:
        return max(ROLES[role], key=lambda one: float(evaluation(share, **{role: one})))

    if "hip_angle" in seen.names:
        stands = seen.values[seen.names.index("hip_angle")] > STANDS_OVER
    else:
        stands = most("mode_share", "mode") == "stand"
    return PicturedTask(
        task, most("hand_share", "hand"), most("look_share", "target"), "stand" if stands else "sit"
    )


def _expected(case: Case, state: State, doing: PicturedTask) -> dict[str, tuple[Deg, Deg]]:
    """Each angle that the model knows, and what errors of measures and estimates leave of it as SD."""
    names = [
        name
        for name in EXPECTED
        if not (name in SITTING_ONLY and doing.mode == "stand")
        and not (name in NOT_WRITING and doing.hands == "writing")
    ]
    roles = {"hand": doing.hands, "target": doing.eyes, "mode": doing.mode}

    def values(at: State) -> Array:
        evaluation = evaluate(at, doing.task)
        return np.array([float(evaluation(EXPECTED[name][0], **roles)) + EXPECTED[name][1] for name in names])

    variance = Noise(case, state, weights_of(case)).variance(values)
    variance = variance + [UPRIGHT_NECK_SD**2 if name == "neck_angle" else 0.0 for name in names]
    pairs = zip(values(state).tolist(), np.sqrt(variance).tolist(), strict=True)
    return dict(zip(names, pairs, strict=True))


def _unseen(evaluation: Evaluation[Any], doing: PicturedTask) -> Unseen:
    """What the case tells of what no view from the side shows."""
    roles = {"hand": doing.hands, "target": doing.eyes, "mode": doing.mode}

    def flag(name: str) -> bool:
        return bool(evaluation(name, **roles))

    def yes(name: str) -> bool:
        return bool(is_yes(evaluation(name)))

    cradled = evaluation("phone") == "cradled" and evaluation("task_phone_share") > 0
    return Unseen(
        arm_raised=flag("arm_raised_flag"),
        arm_abducted=flag("arm_abducted_flag"),
        arm_supported=yes("arms_supported"),
        arm_out=flag("arm_out_flag"),
        wrist_deviated=yes("scores_wrist_deviated"),
        wrist_twist=int(evaluation("scores_wrist_twist")),
        neck_twisted=bool(abs(evaluation("neck_rotation", **roles)) > TWISTED_OVER),
        neck_bent=bool(cradled) or yes("scores_neck_bent"),
        trunk_twisted=bool(abs(evaluation("trunk_twist", **roles)) > TWISTED_OVER),
        trunk_bent=yes("scores_trunk_bent"),
        trunk_rests=doing.mode == "sit" and flag("back_well_supported_flag"),
        legs_supported=doing.mode == "stand" or bool(evaluation("leg_gap") <= curves()["leg_gap"].zero_at),
        minutes_static=float(evaluation("task_spell")),
        repeats_per_minute=float(evaluation("scores_repeats_per_minute")),
        force=int(evaluation("scores_force")),
    )


def _rula(
    seen: SeenAngles, expected: Mapping[str, tuple[Deg, Deg]], unseen: Unseen, of_case: frozenset[str]
) -> ObservedRula:
    used = {**SCORED, **{key: name for key, name in SCORED_IF_SEEN.items() if name in seen.names}}
    at = [seen.names.index(name) for name in used.values()]
    # What differs between people in the neck's upright line is an error of its own.
    spread = seen.covariance[np.ix_(at, at)].copy()
    neck = list(used).index("neck_angle")
    spread[neck, neck] += UPRIGHT_NECK_SD**2
    values, vectors = np.linalg.eigh(spread)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    middle = seen.values[at]
    drawn = middle + np.random.default_rng(SEED).standard_normal((DRAWS, len(at))) @ root
    others = {"wrist_extension": expected["wrist_extension"][0]} if "wrist_extension" in expected else {}
    told = {key: value for key, value in others.items() if key not in used}

    def items(angles: Array) -> dict[str, Any]:
        shown = dict(zip(used, np.clip(angles, -180.0, 180.0), strict=True))
        return observed_items(**told, **shown, unseen=unseen)

    own = {name: int(one) for name, one in items(middle).items()}
    score = rula.score(**own)
    grand = np.sort(rula.grand(**items(drawn.T)))
    low, high = int(grand[round(0.025 * DRAWS)]), int(grand[round(0.975 * DRAWS) - 1])
    not_seen = {key: told.get(key, usual) for key, usual in _usual() if key not in used}
    taken = {**{name: getattr(unseen, name) for name in UNSEEN}, **not_seen}
    return ObservedRula(
        score, min(low, score.grand), max(high, score.grand), own, taken, of_case | frozenset(told)
    )


def _usual() -> Iterator[tuple[str, Deg]]:
    """What angles are taken to be that nobody marked and no case tells."""
    yield "wrist_extension", 0.0
    yield "hip_angle", 90.0


@dataclass(frozen=True)
class TapeForPlan:
    """A length that the plan hangs on and nobody has taped."""

    length: UncertainLength
    moves: Micro
    """What the plan takes off moves by so much when this alone is off by its standard deviation."""


@dataclass(frozen=True)
class PlanTape:
    """What to tape, by what it could change in the plan, the most first."""

    rows: tuple[TapeForPlan, ...]
    no_plan: str = ""
    """Why there is none that does anything; empty where there is one."""


@dataclass(frozen=True)
class Pictured:
    """Everything that pictures tell of a workplace; of a case only where one was given."""

    told: PictureMeasures
    posture: ObservedPosture
    merged: Merged | None = None
    plan_tape: PlanTape | None = None

    @property
    def measures(self) -> tuple[PictureMeasure, ...]:
        """Lengths and angles with their intervals."""
        return self.told.measures

    @property
    def tape(self) -> tuple[ToTape, ...]:
        """Lengths better taped, ordered by how much surer all measures become."""
        return self.told.tape

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What seems wrong with the marks."""
        return self.told.doubts


def measure_workplace(
    files: Sequence[tuple[str | Path, str | Path]],
    case_file: str | Path | None = None,
    place: str | None = None,
    confirmed: bool = False,
) -> Pictured:
    """Measure from pictures of one scene, each with its marks, and put what was measured into a case.

    `InputFaults` with every fault of pictures, marks and case, or where the case does not say which place.
    """
    case = None if case_file is None else load_case(case_file)
    told = measure_pictures(files, None if case is None else case.person.stature)
    if case is None or case_file is None:
        return Pictured(told, observed_posture(told))
    merged = merge(told, case_file, place, confirmed)
    return Pictured(told, observed_posture(told, merged.case, merged.place), merged)


def plan_tape(case: Case, catalog: Catalog, prices: PriceTable) -> PlanTape:
    """Order what is not taped in a case by what it could change in the plan within the case's own limits."""
    try:
        ready = prepare(case, catalog, prices)
        options = ready.options_of(planned(ready).choice)
    except NoPlan as error:
        return PlanTape((), error.hinders)
    if not options:
        return PlanTape((), tr("nothing is worth doing within its limits"))
    moves = ready.noise.moves((), options)
    open_still = [TapeForPlan(length, by) for length, by in moves if by and _can_be_taped(case, length)]
    return PlanTape(tuple(sorted(open_still, key=lambda one: -one.moves)))


def _can_be_taped(case: Case, length: UncertainLength) -> bool:
    if length.estimated:
        return length.can_be_taken
    given = {path: value for path, _, value in values_at(case, length.key)}[length.path]
    return isinstance(given, GivenMeasure) and given.origin in REPLACED
