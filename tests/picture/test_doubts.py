"""Faults planted in the marks are found, and sound marks are left alone."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.stages import NOW, some

from deskmend.picture.doubts import Doubt, doubts, implied_stature
from deskmend.picture.scene import PicturedScene, Taped, fit

from .drawn_scenes import SHEETS, Drawing, DrawnScene, drawn
from .solved import view_of

Change = Callable[[DrawnScene], None]
SWAPS = (("elbow", "wrist"), ("trochanter", "knee"), ("knee", "ankle"), ("acromion", "elbow"))


def found(seed: int, how: Drawing, change: Change = lambda _: None, sheet: str = "") -> list[Doubt]:
    scene = drawn(seed, how)
    change(scene)
    return doubts(fit(PicturedScene((view_of([scene], how),), SHEETS[sheet or how.sheet])))


def changed_over(first: str, second: str) -> Change:
    def change(scene: DrawnScene) -> None:
        points = scene.points
        points[first], points[second] = points[second], points[first]

    return change


def scenes() -> range:
    return range(5000, 5100 if NOW.thorough else 5008)


@pytest.mark.both
@pytest.mark.parametrize("pair", some(SWAPS, *SWAPS[:2]), ids="-".join)
def test_points_of_limbs_changed_over(pair: tuple[str, str]) -> None:
    told = [found(seed, Drawing(), changed_over(*pair)) for seed in scenes()]
    named = [any(one.kind == "swapped" and set(one.points) == set(pair) for one in each) for each in told]
    assert sum(map(bool, told)) >= 0.95 * len(told)
    assert sum(named) >= 0.8 * len(told)


@pytest.mark.both
@pytest.mark.parametrize(("is_one", "told_as"), [("letter", "a4"), ("a4", "letter")])
def test_a_sheet_taken_for_another(is_one: str, told_as: str) -> None:
    told = [found(seed, Drawing(sheet=is_one), sheet=told_as) for seed in scenes()]
    assert sum(map(bool, told)) >= 0.95 * len(told)
    assert sum(any(one.other == is_one for one in each) for each in told) >= 0.9 * len(told)


@pytest.mark.both
@pytest.mark.parametrize("how", [Drawing(), Drawing(sheet="card"), Drawing(focal_known=False)], ids=str)
def test_sound_marks_are_left_alone(how: Drawing) -> None:
    told = [found(seed, how) for seed in scenes()]
    assert sum(map(bool, told)) <= 0.05 * len(told)


def test_a_corner_far_off_is_found() -> None:
    def change(scene: DrawnScene) -> None:
        scene.corners[2] = (scene.corners[2][0] + 40, scene.corners[2][1] - 25)

    told = [found(seed, Drawing(), change) for seed in range(5)]
    assert all(any(one.kind in ("corner", "sheet_kind") for one in each) for each in told)
    assert any(one.points == ("bottom right",) for each in told for one in each)


def test_a_sheet_turned_away_is_told() -> None:
    told = [found(seed, Drawing(sheet_twist=30.0)) for seed in range(5)]
    assert sum(any(one.kind in ("tilted", "sheet_kind", "camera") for one in each) for each in told) >= 3
    assert ("tilted", "twist") in {(one.kind, one.other) for each in told for one in each}


def test_a_card_is_not_taken_for_a_sheet_that_would_make_a_giant() -> None:
    for is_one, told_as in (("card", "a4"), ("a4", "card")):
        (one,) = found(1, Drawing(sheet=is_one), sheet=told_as)
        assert one.kind == "sheet_kind"
        assert one.other in (is_one, "letter" if is_one == "a4" else "")
    assert all(one.other != "card" for seed in range(5) for one in found(seed, Drawing(sheet_twist=20.0)))


def test_a_joint_marked_astray_is_told_with_the_length_it_makes() -> None:
    def change(scene: DrawnScene) -> None:
        x, y = scene.points["knee"]
        scene.points["knee"] = (x + 230, y)

    told = [found(seed, Drawing(), change) for seed in range(5)]
    parts = [one for each in told for one in each if one.kind == "length"]
    assert len(parts) >= 3
    assert all("knee" in one.points for one in parts)
    assert all((one.found or 0.0) > 1.25 * (one.told or 0.0) for one in parts)


def test_a_sheet_too_near_is_told_with_how_near() -> None:
    nearer = []
    for seed in range(8):
        how = Drawing(sheet_depth=400.0)
        scene = drawn(seed, how)
        told = doubts(fit(PicturedScene((view_of([scene], how),), SHEETS["a4"])), scene.stature)
        nearer += [one.nearer or 0.0 for one in told if one.kind == "stature"]
    assert len(nearer) >= 3
    assert all(100 < one < 800 for one in nearer)


def test_a_tape_that_disagrees_is_told_with_both_values() -> None:
    scene = drawn(1, Drawing())
    taped = {"desk_height": Taped(scene.truth["desk_height"] + 250)}
    view = view_of([scene], Drawing())
    told = doubts(fit(PicturedScene((view,), SHEETS["a4"], taped)))
    (one,) = told
    assert one.kind == "tape"
    assert one.points == ("desk_height",)
    assert one.found is not None
    assert one.told == scene.truth["desk_height"] + 250
    assert abs(one.found - scene.truth["desk_height"]) < 100


def test_a_stature_that_does_not_agree_is_told() -> None:
    scene = drawn(4, Drawing())
    solved = fit(PicturedScene((view_of([scene], Drawing()),), SHEETS["a4"]))
    implied = implied_stature(solved)
    assert implied is not None
    assert abs(implied.stature - scene.stature) < 3 * implied.sd
    assert doubts(solved, scene.stature) == []
    assert [one.kind for one in doubts(solved, scene.stature + 300)] == ["stature"]
