"""The questions for a browser: what the form says, draws and reckons with; and the form as one file.

The file asks nothing of any network and keeps answers in the page's own storage. `questions_for_browser`
serves the local page too, which starts the same module, ``report/templates/questions.js``.
"""

from __future__ import annotations

import re
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.intake.interview import Question, questions
from deskmend.intake.reading.fields import MOST_LENGTHS
from deskmend.intake.typed_answers import (
    BARE_LENGTHS,
    DECIMALS,
    MOST_ALIKE,
    OTHER_UNIT,
    RULERS,
    THINNEST_BARE,
    TYPED_UNITS,
    how_written,
)
from deskmend.language import current_language, current_unit, shown_number, tr
from deskmend.measures import Range, currencies
from deskmend.planning.inputs import sign_told, signs_of
from deskmend.report.documents import json_text
from deskmend.report.forms.interview import WHO_YOU_ARE, case_words, choice_groups, wording
from deskmend.report.forms.measure_drawings import drawing_of
from deskmend.report.html.blocks import template_text, whole_page
from deskmend.report.words import FIRST_OF_ALL

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["form_html", "module_text", "questions_for_browser"]

_IMPORT = re.compile(r'^import \{[^}]*\} from "\./[a-z_]+\.js";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export ", re.MULTILINE)
FIRST_CURRENCIES = ("EUR", "USD", "GBP", "MXN", "COP", "ARS", "KES", "INR")
"""Currencies that a list begins with (judgement)."""


def form_html(catalog: Catalog) -> str:
    """The form as a whole HTML document in the reader's language; the same catalog gives the same bytes."""
    style = f"body {{ margin: 0; background: #fff; }}\n{template_text('questions.css')}"
    script = (
        f"{module_text('answers.js')}\n{module_text('questions.js')}\n"
        'const given = document.getElementById("form-data").textContent;\n'
        'startForm(document.getElementById("form"), JSON.parse(given));\n'
    )
    data = json_text(questions_for_browser(catalog)).replace("<", "\\u003c")
    page = whole_page(
        "form.html",
        style,
        script,
        title=tr("Your workplace in eight questions"),
        no_script=tr("This form needs a browser that runs scripts. It sends nothing anywhere."),
        data=Markup(data),
    )
    return page + "\n"


def questions_for_browser(catalog: Catalog) -> dict[str, Any]:
    """Everything that the form in a browser goes by: questions, limits, words, messages and drawings."""
    every = questions(catalog)
    return {
        "language": current_language(),
        "decimal_sign": shown_number("0.5")[1],
        "unit": current_unit(),
        "entry_unit": "in" if current_unit() == "in" else "cm",
        "questions": [_question(one) for one in every],
        "drawings": {one.drawing: drawing_of(one.drawing) for one in every if one.drawing is not None},
        "units": TYPED_UNITS,
        "decimals": DECIMALS,
        "rulers": RULERS,
        "bare_lengths": BARE_LENGTHS,
        "other_unit": OTHER_UNIT,
        "thinnest_bare": THINNEST_BARE,
        "most_alike": MOST_ALIKE,
        "most_pieces": MOST_LENGTHS,
        "currencies": _currencies(),
        "signs": [
            {"id": one.id, "told": sign_told(one), "emergency": one.urgency == "emergency"}
            for one in signs_of([one.id for one in catalog.signs], catalog)
        ],
        "case_words": asdict(case_words()),
        "messages": _messages(),
        "ui": _ui_words(),
    }


def _currencies() -> dict[str, int]:
    known = currencies()
    first = [code for code in FIRST_CURRENCIES if code in known]
    return {code: known[code] for code in (*first, *sorted(set(known) - set(first)))}


def _question(one: Question) -> dict[str, Any]:
    words = wording(one, {})
    numbers = one.kind in ("measure", "pieces", "troubles")
    return {
        "key": one.key,
        "first": one.first,
        "screen": one.screen,
        "to": one.to,
        "kind": one.kind,
        "limits": _range(one.limits) if numbers else None,
        "usual": None if one.usually is None else _range(one.usually),
        "most": None if one.most is None else one.most.model_dump(),
        "otherwise": None if one.otherwise is None else one.otherwise.model_dump(),
        "words": words.choices,
        "groups": [[said, [word for word, _ in group]] for said, group in choice_groups(one, {}) if said],
        "from_catalog": one.from_catalog,
        "not_again": one.not_again,
        "puts": {key: dict(value) for key, value in one.puts.items()},
        "needed": one.needed,
        "asked_if": {key: list(known) for key, known in one.asked_if.items()},
        "asked_below": None if one.asked_below is None else one.asked_below.model_dump(),
        "asked_after": one.asked_after,
        "drawing": one.drawing,
        "ask": words.ask,
        "how": words.how,
        "short": words.short,
        "left_out": words.left_out,
        "example": dict(one.example),
    }


def _range(limits: Range) -> dict[str, Any]:
    return {"kind": limits.kind, "low": limits.low, "high": limits.high}


def module_text(name: str) -> str:
    """A module to stand in one script with others."""
    return _EXPORT.sub("", _IMPORT.sub("", template_text(name)))


def _messages() -> Mapping[str, str]:
    """Sentences about an answer, those of `deskmend.intake.typed_answers`, by the name the module uses."""
    return {
        "hours": tr("{number} h"),
        "minutes": tr("{number} min"),
        "range": tr("{low} to {high}"),
        "written_length": how_written("length"),
        "written_hours": how_written("hours"),
        "written_minutes": how_written("minutes"),
        "written_count": how_written("count"),
        "cannot_be": tr("{value} cannot be."),
        "unlikely": tr("{value} is unlikely."),
        "usual": tr("Usual is {range}."),
        "pieces": tr('the thickness of each, as "38 42 25", or "4 x 35" for four of 35 mm; or none'),
        "most_pieces": tr("at most {most} pieces"),
        "how_many": tr("{number} could be how many there are."),
        "amount": tr("an amount in {currency}, as {example}"),
        "less_than": tr("less than {value}, by another answer"),
        "at_most": tr("at most {value}, by another answer"),
        "longest": tr("at most {most} characters"),
        "taken_pieces": tr("Taken as: {count} of them, {lengths}."),
        "taken_length": tr("Taken as {length}."),
        "taken_hours": tr("Taken as {number} h."),
        "taken_minutes": tr("Taken as {number} min."),
        "taken_count": tr("Taken as {number}."),
        "taken_as": tr("Taken as: {text}."),
    }


def _ui_words() -> Mapping[str, Any]:
    """What stands on buttons and screens."""
    return {
        "title": tr("Your workplace in eight questions"),
        "opening": [
            tr(
                "Eight questions at most give a first plan. You need a tape or a sheet of A4, and about five "
                "minutes."
            ),
            tr(WHO_YOU_ARE),
            tr(
                "What you do not know may be left out. Nothing is sent anywhere: at the end you hand over a "
                "file, and who has deskmend makes the plan from it."
            ),
        ],
        "opening_here": [
            tr(
                "Eight questions at most give a first plan. You need a tape or a sheet of A4, and about five "
                "minutes."
            ),
            tr(WHO_YOU_ARE),
            tr(
                "What you do not know may be left out. Nothing is sent anywhere: at the end the case is "
                "written into your folder, and the plan follows."
            ),
        ],
        "told_first": tr("First of all"),
        "emergency": tr(FIRST_OF_ALL["emergency"]),
        "waits": tr("Your answers can wait until you have had care"),
        "shared": tr(
            "Answers stay on this telephone or computer for 7 days. Where others use it too, erase them when "
            "you are done."
        ),
        "shared_here": tr(
            "Answers stay in this window until the case is written or the window is closed, for 7 days at "
            "most. Then they are forgotten."
        ),
        "not_kept": tr("This browser keeps nothing: answer all in one go, and do not load the page anew."),
        "begin": tr("Start with question 1"),
        "begin_again": tr("Begin again"),
        "go_on": tr("Go on"),
        "erase": tr("Erase my answers"),
        "erased": tr("Erased"),
        "erased_all": tr("Nothing is kept of your answers here."),
        "back": tr("Back"),
        "pause": tr("Pause"),
        "paused": tr("Paused"),
        "paused_kept": tr("Your answers are kept. Open this file again to go on."),
        "paused_kept_here": tr("Your answers are kept in this window: leave it open, and go on here."),
        "next": tr("Next"),
        "not_known": tr("Not known"),
        "where_first": tr("Question {number} of {all}"),
        "where_further": tr("More: {number} of {all}"),
        "things": tr("What is there at home that you can use?"),
        "if_not_known": tr("And if I do not know?"),
        "or_number": tr("or a height"),
        "unit": tr("Unit"),
        "no_tape": tr("No tape? Use a sheet of A4"),
        "paper": tr(
            "A sheet of A4 is 297 mm long, US letter 279.4 mm, a bank card 85.6 mm. Lay them end to end and "
            'write "2 A4 + 1 card"; a sheet folded in half is 0.5 A4.'
        ),
        "none_of_these": tr("None of these"),
        "needed": tr("This one is needed: nothing could stand in for it."),
        "not_taken": tr("This cannot be taken."),
        "allowed": tr("Allowed: {allowed}."),
        "take": tr("Take {value}"),
        "type_again": tr("Type again"),
        "enough": tr("Enough for a first plan"),
        "enough_more": tr(
            "Each further answer makes the plan surer. Nothing is lost by stopping here: what is not told is "
            "estimated, and the plan says so."
        ),
        "enough_count": tr("Further questions: {number}. The first helps most."),
        "hand_over_now": tr("Hand over now"),
        "still_needed": tr("Still needed"),
        "ready": tr("Your answers are ready"),
        "make_plan": tr("Make the plan"),
        "hand_over": tr(
            "Save or share the file, or copy its text, and give it to whoever makes the plan. With deskmend "
            "that is: deskmend plan case.yaml"
        ),
        "wishes_later": tr(
            "What has to be in the plan, and what else must not be in it, is not asked here: that is said "
            "once there is a plan to look at."
        ),
        "save": tr("Save the file"),
        "share": tr("Share"),
        "copy": tr("Copy"),
        "saved": tr("Saved as case.yaml among your downloads."),
        "shared_now": tr("Shared."),
        "not_shared": tr("It could not be shared here: save or copy it."),
        "copied": tr("Copied."),
        "copy_by_hand": tr("It could not be copied: mark the text below and copy it."),
        "case_text": tr("The file as text"),
        "look_through": tr("Look through the answers"),
        "change": tr("Change"),
        "estimated": tr("Estimated, not measured"),
        "pictures": tr("Two pictures help"),
        "pictures_why": tr(
            "They are no must. Ask whoever is on them first; they are measured, and not kept unless you say "
            "so."
        ),
        "picture_steps": [
            tr("From the side, from 3 to 4 m away, the telephone upright and at the height of the hip."),
            tr("The whole body, the chair, the table and the floor are in view; nothing stands before them."),
            tr("Stand a sheet of A4 upright on the seat or a box beside the hip, flat side to the camera."),
            tr("First picture: at work as usual, hands on the keys, eyes on the screen."),
            tr("Second picture: the same from the same place, writing or reading, or with another task."),
            tr("Send the pictures as files, not through a messenger that shrinks them, and cut nothing off."),
        ],
        "after": tr("When it is handed over"),
        "after_why": tr("Erase the answers here once you know that the file has arrived."),
        "handed_over": tr("It is handed over: erase my answers"),
    }
