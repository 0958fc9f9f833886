"""What is promised of planted faults, and the table that the page shows of them."""

from __future__ import annotations

import re

import pytest

from .planted_faults import BEGIN, CLEAN, END, FIRST_SEED, KINDS, PAGE, Kind, found, share

PROMISED = [kind for kind in KINDS if kind.promised is not None]


def words(kind: Kind) -> str:
    return kind.words


def shown() -> dict[str, tuple[int, int]]:
    """Scenes and share [%] of each kind, as the page has them."""
    part = PAGE.read_text(encoding="utf-8").split(BEGIN)[1].split(END)[0]
    rows = re.findall(r"^\| (.+) \| ([0-9]+) \| ([0-9]+) % \|$", part, re.MULTILINE)
    return {kind: (int(scenes), int(percent)) for kind, scenes, percent in rows}


def test_the_page_shows_every_kind_and_keeps_what_is_promised() -> None:
    table = shown()
    assert {name: scenes for name, (scenes, _) in table.items()} == {
        kind.words: kind.scenes for kind in (*KINDS, CLEAN)
    }
    for kind in PROMISED:
        assert kind.promised is not None
        assert table[kind.words][1] >= 100 * kind.promised
    assert table[CLEAN.words][1] <= 5
    assert sum(kind.scenes for kind in PROMISED) >= 500


@pytest.mark.parametrize("kind", PROMISED, ids=words)
def test_a_few_planted_faults_are_told(kind: Kind) -> None:
    told = [found(kind, FIRST_SEED + number) for number in range(6)]
    assert all(one is None or one for one in told)


def test_a_few_sound_scenes_are_left_alone() -> None:
    assert sum(bool(found(CLEAN, FIRST_SEED + number)) for number in range(12)) == 0


@pytest.mark.thorough
@pytest.mark.parametrize("kind", [*KINDS, CLEAN], ids=words)
def test_shares_are_those_of_the_page(kind: Kind) -> None:
    percent = 100 * share(kind)
    assert abs(percent - shown()[kind.words][1]) <= 2
    if kind.promised is not None:
        assert percent >= 100 * kind.promised
    if kind is CLEAN:
        assert percent <= 5
