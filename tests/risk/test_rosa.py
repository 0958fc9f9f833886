"""ROSA as a whole: ranges, order, vectorised against single, faults. Its values are in tests/published."""

import itertools

import numpy as np
import pytest

from deskmend.risk import rosa
from deskmend.risk.ranges import OutOfRange, UnknownName

CHAIR = ("seat_height", "seat_depth", "armrest", "back_support", "chair_duration")
DEVICES = ("monitor", "telephone", "mouse", "keyboard")
LEAST = {name: low for name, (low, _) in rosa.LIMITS.items()}


def _grid(names):
    axes = [range(low, high + 1) for low, high in (rosa.LIMITS[name] for name in names)]
    return np.array(list(itertools.product(*axes)))


@pytest.fixture(scope="module")
def every_final():
    """Final score of every one of the 900 x 3584 combinations of inputs."""
    a, b = _grid(CHAIR), _grid(DEVICES)
    left = {name: a[:, i][:, None] for i, name in enumerate(CHAIR)}
    right = {name: b[:, i][None, :] for i, name in enumerate(DEVICES)}
    return a, b, rosa.final(**left, **right)


def test_all_inputs_give_one_to_ten(every_final):
    final = every_final[2]
    assert final.shape == (5 * 3 * 5 * 4 * 3, 8 * 7 * 8 * 8)
    assert set(np.unique(final)) == set(range(1, 11))


def test_final_never_falls_as_an_input_rises(every_final):
    shape = [rosa.LIMITS[name][1] - rosa.LIMITS[name][0] + 1 for name in (*CHAIR, *DEVICES)]
    cube = every_final[2].reshape(shape).astype(np.int8)
    for axis in range(cube.ndim):
        assert (np.diff(cube, axis=axis) >= 0).all(), (*CHAIR, *DEVICES)[axis]


def test_vectorised_equals_single(every_final):
    a, b, final = every_final
    rows, columns = range(0, len(a), 7), range(0, len(b), 101)
    for grid, picked in ((a, rows), (b, columns)):
        for axis in range(grid.shape[1]):
            assert set(grid[list(picked), axis]) == set(grid[:, axis])
    for i, j in itertools.product(rows, columns):
        single = rosa.score(
            **dict(zip(CHAIR, a[i].tolist(), strict=True)), **dict(zip(DEVICES, b[j].tolist(), strict=True))
        )
        assert single.final == final[i, j] == max(single.chair, single.peripherals)
        assert single.peripherals == max(single.monitor_telephone, single.mouse_keyboard)
        assert single.chair == rosa.table_a(a[i, 0] + a[i, 1], a[i, 2] + a[i, 3]) + a[i, 4]


def test_section_ranges_are_the_published_ones():
    """De Barros et al. 2022, doi 10.1186/s12891-022-05490-8: A 2 to 9, B and C 1 to 9."""
    from deskmend.risk.ranges import score_table

    spans = {x: score_table(f"rosa_table_{x}").values for x in "abcde"}
    assert {x: (int(v.min()), int(v.max())) for x, v in spans.items()} == {
        "a": (2, 9),
        "b": (1, 9),
        "c": (1, 9),
        "d": (1, 9),
        "e": (1, 10),
    }
    for values in spans.values():
        for axis in range(values.ndim):
            assert (np.diff(values, axis=axis) >= 0).all()


def test_parts_are_plain_ints_and_frozen():
    result = rosa.score(**LEAST)
    parts = ("chair", "monitor_telephone", "mouse_keyboard", "peripherals", "final")
    assert [type(getattr(result, part)) for part in parts] == [int] * 5
    with pytest.raises(AttributeError):
        result.final = 7


@pytest.mark.parametrize("name", rosa.LIMITS)
def test_every_argument_is_held_to_its_range(name):
    low, high = rosa.LIMITS[name]
    for bad in (low - 1, high + 1, 1.0, "1", None, True):
        with pytest.raises(OutOfRange, match=name):
            rosa.score(**{**LEAST, name: bad})
    for bad in ([low, high + 1], [low - 1], 1.5, [True], "1"):
        with pytest.raises(OutOfRange, match=name):
            rosa.final(**{**LEAST, name: bad})


def test_all_faults_at_once():
    with pytest.raises(OutOfRange) as fault:
        rosa.score(**{**LEAST, "monitor": 8, "seat_depth": 0})
    assert str(fault.value) == "rosa.score: seat_depth read 0, allowed 1 to 3; monitor read 8, allowed 0 to 7"


ITEMS = {
    "seat_height": (
        {"knee_angle_deg": (60, 85, 90, 95, 120)},
        ("foot_contact", "space_short", "fixed"),
        False,
    ),
    "seat_depth": ({"clearance_mm": (-20, 49.9, 50, 75, 100, 101)}, ("fixed",), False),
    "armrest": ({"height_gap_mm": (-50, -20, 0, 20, 50)}, ("present", "hard", "wide", "fixed"), False),
    "back_support": (
        {"back_angle_deg": (90, 95, 110, 120)},
        ("lumbar", "used", "surface_high", "fixed"),
        False,
    ),
    "monitor": (
        {"gaze_down_deg": (-10, 0, 30, 40), "distance_mm": (300, 750, 800), "twist_deg": (-40, 0, 30)},
        ("glare", "documents_loose"),
        True,
    ),
    "telephone": ({"reach_mm": (0, 300, 301)}, ("neck_hold", "hands_free"), True),
    "mouse": ({}, ("reaching", "other_surface", "pinch_grip", "palm_rest"), True),
    "keyboard": (
        {"wrist_extension_deg": (-20, 0, 15, 16)},
        ("deviated", "too_high", "overhead", "fixed"),
        True,
    ),
}


@pytest.mark.parametrize("item", ITEMS)
def test_items_reach_both_ends_of_the_published_range_and_vectorise(item):
    """Ranges printed by de Barros et al. 2022; the monitor alone needs its end held."""
    quantities, flags, timed = ITEMS[item]
    axes = [*quantities.values(), *([(False, True)] * len(flags)), *([(-1, 0, 1)] if timed else [])]
    names = [*quantities, *flags, *(["duration"] if timed else [])]
    rows = list(itertools.product(*axes))
    arrays = {name: np.array([row[i] for row in rows]) for i, name in enumerate(names)}
    many = getattr(rosa, item)(**arrays)
    single = [int(getattr(rosa, item)(**dict(zip(names, row, strict=True)))) for row in rows]
    assert many.tolist() == single
    assert (min(single), max(single)) == rosa.LIMITS[item]


@pytest.mark.parametrize("item", [item for item in ITEMS if ITEMS[item][0]])
def test_items_refuse_what_is_no_number(item):
    quantities, flags, _ = ITEMS[item]
    middle = {name: values[1] for name, values in quantities.items()}
    for name in quantities:
        for bad in (float("nan"), float("inf"), 1e9, "20", None, True):
            with pytest.raises(OutOfRange, match=name):
                getattr(rosa, item)(**{**middle, name: bad})
    for flag in flags:
        with pytest.raises(OutOfRange, match=flag):
            getattr(rosa, item)(**{**middle, flag: 1})


def test_monitor_is_held_at_seven():
    """Judgement on a conflict of sources: too high scores 3, so the sum may reach 8; the range ends at 7."""
    worst = {
        "gaze_down_deg": -10,
        "distance_mm": 900,
        "twist_deg": 40,
        "glare": True,
        "documents_loose": True,
    }
    assert rosa.monitor(**worst, duration=0) == 7
    assert rosa.monitor(**worst, duration=1) == 7
    assert rosa.explain("monitor", **worst, duration=1).endswith("held at 7, the published range is 0 to 7")


def test_judged_ends_fall_as_documented():
    """Judgement, see docs/methods.md."""
    assert rosa.seat_height([85, 95, 84.9, 95.1]).tolist() == [1, 1, 2, 2]
    assert rosa.seat_depth([50, 100, 49.9, 100.1]).tolist() == [1, 1, 2, 2]
    assert rosa.armrest([20, -20, 20.1]).tolist() == [1, 1, 2]
    assert rosa.armrest(0, present=False, hard=True, wide=True, fixed=True) == 2
    assert rosa.monitor(0) == 1
    assert rosa.duration(5, 20) == 1
    assert rosa.duration(3, 20) == -1


def test_duration_vectorises_and_refuses():
    hours, minutes = np.meshgrid([0, 0.5, 1, 4, 4.5, 24], [0, 29, 30, 60, 61, 1440])
    many = rosa.duration(hours, minutes)
    assert many.tolist() == [
        [int(rosa.duration(float(h), float(m))) for h, m in zip(hs, ms, strict=True)]
        for hs, ms in zip(hours, minutes, strict=True)
    ]
    assert set(np.unique(many)) == {-1, 0, 1}
    for wrong in ({"hours_a_day": 25, "unbroken_minutes": 1}, {"hours_a_day": 1, "unbroken_minutes": -1}):
        with pytest.raises(OutOfRange):
            rosa.duration(**wrong)
    with pytest.raises(OutOfRange, match="duration"):
        rosa.mouse(False, duration=2)


@pytest.mark.parametrize(
    ("item", "arguments", "words"),
    [
        ("seat_depth", {"clearance_mm": 20}, "seat depth 2: 20 mm behind the knee, band seat too long"),
        (
            "seat_height",
            {"knee_angle_deg": 99, "foot_contact": False, "fixed": True},
            "seat height 4: feet do not reach the ground; height not adjustable +1",
        ),
        (
            "seat_depth",
            {"clearance_mm": -20},
            "seat depth 2: 20 mm in front of the hollow of the knee, band seat too long",
        ),
        ("mouse", {"reaching": False, "duration": 1}, "mouse 2: in line with the shoulder; time of use +1"),
        ("duration", {"hours_a_day": 5, "unbroken_minutes": 20}, "duration 1: 5 h a day, band over 4"),
        (
            "duration",
            {"hours_a_day": 3, "unbroken_minutes": 20},
            "duration -1: 20 min unbroken, band under 30",
        ),
    ],
)
def test_reasons_in_plain_words(item, arguments, words):
    assert rosa.explain(item, **arguments) == words
    assert f" {int(getattr(rosa, item)(**arguments))}:" in words


def test_reason_of_the_unknown():
    with pytest.raises(UnknownName, match="did you mean monitor"):
        rosa.explain("monitr", gaze_down_deg=1)
