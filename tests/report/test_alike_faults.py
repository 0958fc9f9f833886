"""Many rows with one fault are told together; no line is lost, and JSON keeps each."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from deskmend.errors import Fault, InputFaults
from deskmend.intake.prices import load_prices
from deskmend.report.documents import IN_FULL, fault_lines, faults_document, faults_text


def _found(tmp_path: Path, rows: Iterator[str]) -> tuple[Fault, ...]:
    path = tmp_path / "prices.csv"
    path.write_text("item,pack,price,currency\n" + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        load_prices(path)
    return caught.value.faults


def test_the_first_twenty_and_how_many_more(tmp_path: Path) -> None:
    faults = _found(tmp_path, (f"felt{n},one,2.00,EUR" for n in range(60)))
    lines = faults_text(faults).splitlines()
    assert lines[:20] == [str(fault) for fault in faults[:20]]
    assert lines[20:] == [f"{tmp_path}/prices.csv:22: pack: 40 more of the same kind, on lines 22 to 61"]
    assert len(faults_document(faults)["faults"]) == 60


def test_kinds_are_counted_apart_and_stay_in_the_order_of_lines(tmp_path: Path) -> None:
    rows = (f"felt{n},{'one' if n % 2 else 1},{2 if n % 2 else 'x'},EUR" for n in range(50))
    lines = [line.split(":", 1)[1] for line in faults_text(_found(tmp_path, rows)).splitlines()]
    assert len(lines) == 2 * 20 + 2
    assert lines[-2:] == [
        "42: price: 5 more of the same kind, on lines 42, 44, 46, 48, 50",
        "43: pack: 5 more of the same kind, on lines 43, 45, 47, 49, 51",
    ]


def test_numbers_of_other_rows_do_not_part_a_kind(tmp_path: Path) -> None:
    path = tmp_path / "prices.csv"
    rows = "".join(f"felt{n},1,{n}.00,{n + 1}.00,EUR\n" for n in range(30))
    path.write_text("item,pack,price,low,currency\n" + rows, encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        load_prices(path)
    assert "allowed at most the price, 0.00" in str(caught.value)
    assert list(fault_lines(caught.value.faults))[-1].endswith(
        "low: 10 more of the same kind, on lines 22 to 31"
    )


def test_one_more_is_shown_itself() -> None:
    faults = [Fault("t.csv", n, "pack", "x", "a number", kind="pack") for n in range(IN_FULL + 1)]
    assert list(fault_lines(faults)) == [str(fault) for fault in faults]


def test_faults_without_a_kind_are_shown_each() -> None:
    faults = [Fault("case.yaml", n, "hours", "x", "a number") for n in range(100)]
    assert list(fault_lines(faults)) == [str(fault) for fault in faults]


def test_many_scattered_lines_are_cut_with_the_last_one_named() -> None:
    faults = [Fault("t.csv", 2 * n, "pack", "x", "a number", kind="pack") for n in range(100)]
    (*_, last) = fault_lines(faults)
    assert "80 more of the same kind, on lines 40, 42," in last
    assert last.endswith(", 62 and others up to 198")
