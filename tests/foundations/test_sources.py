"""Citations are found by key; repeated, unknown and unused keys do not pass."""

import pytest

from deskmend.published import STATUSES, Registry, Source, UnknownSource

ONE = Source("en527_1", "EN 527-1:2011 Office furniture: work tables, part 1", "CEN", "confirmed")
TWO = Source("own", "Our own judgement", "", "judgement")


def test_registry() -> None:
    registry = Registry([ONE, TWO])
    assert registry["own"] is TWO
    assert "own" in registry
    assert list(registry) == [ONE, TWO]
    assert len(registry) == 2
    assert registry.unused(["own"]) == ("en527_1",)
    assert {source.status for source in registry} <= set(STATUSES)


def test_unknown_and_repeated_keys() -> None:
    with pytest.raises(UnknownSource, match="'nowhere'"):
        Registry([ONE])["nowhere"]
    with pytest.raises(ValueError, match="en527_1"):
        Registry([ONE, ONE])
