"""What people type into a casebook, read with every fault at once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from deskmend.casebook.store import Rating
from deskmend.errors import Fault, InputFaults, Unreadable, did_you_mean, option_fault
from deskmend.intake.reading.ids import ALLOWED_ID, is_id
from deskmend.intake.reading.text_file import text_fault
from deskmend.measures import Minor, parse_amount
from deskmend.risk.severity import REGIONS

__all__ = ["LARGEST_RATING", "LONGEST_NOTE", "Entries"]

LARGEST_RATING = 10
LONGEST_NOTE = 2000
"""Most characters of a note or a reason."""
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_WHOLE = re.compile(r"[0-9]{1,4}", re.ASCII)


class Entries:
    """Reads one thing after another and gathers what is wrong; `refuse` raises it all together."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def fault(self, where: str, read: str | None, allowed: str, hint: str = "", note: str = "") -> None:
        """Record that something may not stand on the command line."""
        self.faults.append(option_fault(where, read, allowed, hint, note))

    def refuse(self) -> None:
        """Raise `InputFaults` where anything was wrong."""
        if self.faults:
            raise InputFaults(dict.fromkeys(self.faults))

    def key(self, text: str) -> str:
        """Key of a person, of the assessor's choosing."""
        if not is_id(text):
            self.fault("KEY", text, ALLOWED_ID)
        return text

    def day(self, text: str | None, option: str = "--on") -> date:
        """Day as ``2026-03-01``; today's where it is left out, since that is when it is written down."""
        if text is None:
            return date.today()
        try:
            if _DAY.fullmatch(text):
                return date.fromisoformat(text)
        except ValueError:
            # as 2026-02-30: told below with every other text that is no day
            pass
        self.fault(option, text, "a day as 2026-03-01")
        return date.min

    def words(self, text: str | None, option: str) -> str:
        """Free text in one line; empty where it is left out."""
        note = text_fault(text or "", LONGEST_NOTE)
        if note:
            self.fault(option, text, f"one line of at most {LONGEST_NOTE} characters", note=note)
        return text or ""

    def paid(self, text: str | None, currency: str) -> Minor | None:
        """Money that was paid; None where nobody said."""
        try:
            return None if text is None else parse_amount(text, currency)
        except Unreadable as error:
            self.fault("--paid", text, error.allowed, error.hint)
            return None

    def ratings(self, texts: Sequence[str], day: date) -> tuple[Rating, ...]:
        """Ratings written as ``neck=6``."""
        out: dict[str, Rating] = {}
        for text in texts:
            region, equals, number = text.partition("=")
            if not equals or not region or not number:
                self.fault("REGION=RATING", text, "a region and a rating from 0 to 10, as neck=6")
                continue
            if region not in REGIONS:
                allowed = f"one of {', '.join(REGIONS)}"
                self.fault("REGION=RATING", region, allowed, did_you_mean(region, REGIONS))
            elif region in out:
                self.fault("REGION=RATING", text, "each region once")
            if not _WHOLE.fullmatch(number) or int(number) > LARGEST_RATING:
                self.fault(region, number, f"a whole number from 0 to {LARGEST_RATING}")
            else:
                out[region] = Rating(day, region, int(number))
        return tuple(out.values())
