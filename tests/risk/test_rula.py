"""RULA as a whole: ranges, order, vectorised against single, faults. Its values are in tests/published."""

import itertools
import subprocess
import sys

import numpy as np
import pytest

from deskmend.risk import rula
from deskmend.risk.ranges import OutOfRange, UnknownName

A_SIDE = ("upper_arm", "lower_arm", "wrist", "wrist_twist", "arm_muscle_use", "arm_force")
B_SIDE = ("neck", "trunk", "legs", "body_muscle_use", "body_force")
LEAST = {name: low for name, (low, _) in rula.LIMITS.items()}


def _grid(names):
    axes = [range(low, high + 1) for low, high in (rula.LIMITS[name] for name in names)]
    return np.array(list(itertools.product(*axes)))


@pytest.fixture(scope="module")
def every_grand():
    """Grand score of every one of the 1152 x 576 combinations of inputs."""
    a, b = _grid(A_SIDE), _grid(B_SIDE)
    left = {name: a[:, i][:, None] for i, name in enumerate(A_SIDE)}
    right = {name: b[:, i][None, :] for i, name in enumerate(B_SIDE)}
    return a, b, rula.grand(**left, **right)


def test_all_inputs_give_one_to_seven(every_grand):
    a, b, grand = every_grand
    assert grand.shape == (len(a), len(b)) == (6 * 3 * 4 * 2 * 2 * 4, 6 * 6 * 2 * 2 * 4)
    assert set(np.unique(grand)) == {1, 2, 3, 4, 5, 6, 7}


def test_grand_never_falls_as_an_input_rises(every_grand):
    grand = every_grand[2]
    shape = [rula.LIMITS[name][1] - rula.LIMITS[name][0] + 1 for name in (*A_SIDE, *B_SIDE)]
    cube = grand.reshape(shape)
    for axis in range(cube.ndim):
        assert (np.diff(cube, axis=axis) >= 0).all(), (*A_SIDE, *B_SIDE)[axis]


def test_vectorised_equals_single(every_grand):
    a, b, grand = every_grand
    rows, columns = range(0, len(a), 7), range(0, len(b), 13)
    for grid, picked in ((a, rows), (b, columns)):
        for axis in range(grid.shape[1]):
            assert set(grid[list(picked), axis]) == set(grid[:, axis])
    for i, j in itertools.product(rows, columns):
        left = dict(zip(A_SIDE, a[i].tolist(), strict=True))
        right = dict(zip(B_SIDE, b[j].tolist(), strict=True))
        single = rula.score(**left, **right)
        assert single.grand == grand[i, j]
        assert single.c == single.a + a[i, 4] + a[i, 5]
        assert single.d == single.b + b[j, 3] + b[j, 4]


def test_parts_are_plain_ints_and_frozen():
    result = rula.score(**LEAST)
    assert [type(getattr(result, part)) for part in ("a", "b", "c", "d", "grand", "action_level")] == [
        int
    ] * 6
    with pytest.raises(AttributeError):
        result.grand = 7


@pytest.mark.parametrize("name", rula.LIMITS)
def test_every_argument_is_held_to_its_range(name):
    low, high = rula.LIMITS[name]
    for bad in (low - 1, high + 1, 1.0, "1", None, True, float("nan"), 10**30):
        with pytest.raises(OutOfRange, match=name) as fault:
            rula.score(**{**LEAST, name: bad})
        assert [one.name for one in fault.value.wrong] == [name]
    for bad in ([low, high + 1], [low - 1], 1.5, [True], "1", np.array([2.0])):
        with pytest.raises(OutOfRange, match=name):
            rula.grand(**{**LEAST, name: bad})
    for good in (low, high, np.int8(high), np.array(low)):
        assert 1 <= rula.score(**{**LEAST, name: good}).grand <= 7


def test_all_faults_at_once_and_nothing_clamped():
    with pytest.raises(OutOfRange) as fault:
        rula.score(**{**LEAST, "neck": 7, "legs": 0, "wrist": 2.5})
    assert str(fault.value) == (
        "rula.score: wrist read 2.5, allowed a whole number 1 to 4; neck read 7, allowed 1 to 6; "
        "legs read 0, allowed 1 to 2"
    )
    assert isinstance(fault.value, ValueError)


def test_the_older_worksheet_is_not_what_we_use():
    """An older worksheet prints 2 where the paper's table has 3 (see docs/methods.md)."""
    assert rula.table_a(2, 2, 1, 1) == 3


ITEMS = {
    "upper_arm": (dict(flexion_deg=(-180, 180)), ("raised", "abducted", "supported")),
    "lower_arm": (dict(elbow_flexion_deg=(0, 180)), ("out_or_across",)),
    "wrist": (dict(extension_deg=(-180, 180)), ("deviated",)),
    "neck": (dict(flexion_deg=(-180, 180)), ("twisted", "bent")),
    "trunk": (dict(flexion_deg=(-180, 180)), ("supported", "twisted", "bent")),
}


@pytest.mark.parametrize("item", ITEMS)
def test_items_stay_in_range_reach_its_ends_and_vectorise(item):
    ((argument, (low, high)),) = ITEMS[item][0].items()
    values = np.unique(
        np.concatenate([np.linspace(low, high, 73), [-20, -15, 0, 10, 15, 20, 45, 60, 90, 100]])
    )
    values = values[(values >= low) & (values <= high)]
    function, seen = getattr(rula, item), set()
    for flags in itertools.product([False, True], repeat=len(ITEMS[item][1])):
        given = dict(zip(ITEMS[item][1], flags, strict=True))
        many = function(**{argument: values}, **given)
        single = [int(function(**{argument: float(v)}, **given)) for v in values]
        assert many.tolist() == single
        seen |= set(single)
    assert (min(seen), max(seen)) == rula.LIMITS[item]


@pytest.mark.parametrize("item", ITEMS)
def test_items_refuse_what_is_no_angle(item):
    ((argument, (low, high)),) = ITEMS[item][0].items()
    for bad in (float("nan"), float("inf"), low - 1, high + 1, "20", None, True, [10, float("nan")]):
        with pytest.raises(OutOfRange, match=argument):
            getattr(rula, item)(**{argument: bad})
    for flag in ITEMS[item][1]:
        for bad in (1, "yes", None):
            with pytest.raises(OutOfRange, match=flag):
                getattr(rula, item)(**{argument: 10, flag: bad})


def test_judged_ends_of_bands_fall_as_documented():
    """Judgement, see docs/methods.md: an end printed in two bands belongs to the lower one."""
    assert rula.neck(10) == 1
    assert rula.trunk(20) == 2
    assert rula.trunk(-10) == 2
    assert rula.trunk(21, supported=True) == 3
    assert rula.upper_arm(0, supported=True) == 1
    assert rula.muscle_use(1, 4) == 0
    assert rula.force(10) == 1
    assert rula.force(10, "static_or_repeated") == 2


def test_noise_of_arithmetic_tips_no_band():
    """Nine decimals count; -1e-15 degrees is no extension and 20 less 4e-15 is 20."""
    assert np.nextafter(20, 0) < 20
    assert rula.neck([np.nextafter(20, 0), -1e-15, 20 - 1e-6]).tolist() == [3, 1, 2]
    assert rula.trunk(np.nextafter(20, 90), supported=True) == 1
    assert rula.lower_arm(np.nextafter(60, 0)) == 1


def test_neutral_is_the_letter_unless_a_width_is_given():
    assert rula.wrist([0.5, 3, -3], neutral_deg=3).tolist() == [1, 1, 1]
    assert rula.wrist(0.5) == 2
    assert rula.neck([-2, -2.1], neutral_deg=2).tolist() == [1, 4]
    assert rula.neck(-0.1) == 4
    with pytest.raises(OutOfRange, match="neutral_deg"):
        rula.wrist(1, neutral_deg=15)


def test_muscle_use_and_force_vectorise():
    minutes, repeats = np.array([0, 1, 1.01, 90]), np.array([0, 4, 0, 5])
    assert rula.muscle_use(minutes, repeats).tolist() == [0, 0, 1, 1]
    kg = np.array([0, 1.99, 2, 10, 10.01])
    for kind in rula.FORCE_KINDS:
        assert rula.force(kg, kind).tolist() == [int(rula.force(float(k), kind)) for k in kg]
    with pytest.raises(UnknownName, match="did you mean shock"):
        rula.force(1, "shok")
    with pytest.raises(OutOfRange, match="kg"):
        rula.force(-1)


@pytest.mark.parametrize(
    ("item", "arguments", "words"),
    [
        ("neck", {"flexion_deg": 24}, "neck 3: 24 degrees forward, band 20 or more"),
        ("neck", {"flexion_deg": 19.96}, "neck 2: 19.96 degrees forward, band 10 to 20"),
        (
            "neck",
            {"flexion_deg": 24, "twisted": True},
            "neck 4: 24 degrees forward, band 20 or more; twisted +1",
        ),
        ("neck", {"flexion_deg": -12}, "neck 4: 12 degrees back, band bent back"),
        ("wrist", {"extension_deg": -16.24}, "wrist 3: 16.2 degrees bent down, band 15 or more"),
        ("legs", {"supported": False}, "legs 2: legs and feet not supported or weight uneven"),
        ("legs", {"supported": True}, "legs 1: legs and feet supported, weight even"),
        (
            "trunk",
            {"flexion_deg": -5, "supported": True},
            "trunk 1: seated, back supported, hip angle 90 or more",
        ),
        ("force", {"kg": 3}, "force 1: 3 kg, band 2 to 10 intermittent"),
        (
            "muscle_use",
            {"minutes_static": 90, "repeats_per_minute": 0},
            "muscle use 1: 90 min unbroken, band held longer than 1 min",
        ),
        (
            "upper_arm",
            {"flexion_deg": 0, "supported": True},
            "upper arm 1: 0 degrees forward, band 20 back to 20 forward; arm supported -1; "
            "held at 1, table A has rows 1 to 6",
        ),
    ],
)
def test_reasons_in_plain_words(item, arguments, words):
    assert rula.explain(item, **arguments) == words
    assert f" {int(getattr(rula, item)(**arguments))}:" in words


def test_reason_of_the_unknown_and_of_arrays():
    with pytest.raises(UnknownName, match="did you mean neck"):
        rula.explain("nek", flexion_deg=1)
    with pytest.raises(OutOfRange, match="single"):
        rula.explain("neck", flexion_deg=[1, 2])


def test_import_is_light():
    code = (
        "import sys, deskmend.risk.rula, deskmend.risk.rosa; print({'pandas', 'pydantic'} & set(sys.modules))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "set()"
