"""HTML of the local page: templates, style, modules, the policy that lets in these alone, and words."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from deskmend.language import current_language, tr
from deskmend.report.html.blocks import content_policy, drawing_key, page_environment, template_text

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["rendered", "screen", "words"]


def words() -> dict[str, str]:
    """Every one in the reader's language; braces are filled where they are shown."""
    return {
        "skip": tr("Go to the content"),
        "screens": tr("Screens of this case"),
        "cases": tr("Cases"),
        "cases_title": tr("Cases in this folder"),
        "strain": tr("Strain"),
        "plan": tr("Plan"),
        "picture": tr("Picture"),
        "answers_title": tr("Answers"),
        "answers_help": tr(
            "Change an answer and take it: it goes into the case at once, and the plan follows."
        ),
        "working_answers": tr("Reading the answers"),
        "not_known": tr("Not known"),
        "taken_as": tr("Taken as {value}"),
        "change_answer": tr("Change"),
        "none_of_these": tr("None of these"),
        "no_wishes": tr("No fix is wished or refused."),
        "wish_on_plan": tr("Wish for a fix or refuse one, on the plan"),
        "take_answer": tr("Take it"),
        "take_answer_of": tr("Take it: {question}"),
        "nothing_typed": tr("Nothing is typed."),
        "take_unknown": tr("Take it as not known"),
        "not_taken": tr("This cannot be taken"),
        "take_meant": tr("Take {value}"),
        "type_again": tr("Type again"),
        "measure_it": tr("Measure it"),
        "in_the_file": tr("No question asks for it: write it into the case file, as {path}."),
        "see_plan": tr("See the plan"),
        "no_case": tr("No case here yet"),
        "no_case_help": tr(
            "Eight questions at most give a first plan. You need a tape or a sheet of A4. Or look at an "
            "invented example first."
        ),
        "start": tr("Answer the questions"),
        "new_case": tr("New case"),
        "file_name": tr("Name of the file"),
        "file_name_help": tr("Letters, digits, blanks, dots and lines. It is written into this folder."),
        "take_example": tr("Put the example into this folder"),
        "cannot_be_read": tr("Cannot be read"),
        "open_plan": tr("Open the plan"),
        "see_strain": tr("See what strains"),
        "folder": tr("Folder:"),
        "kept_here": tr(
            "Everything stays on this machine. What you change is written into this folder alone."
        ),
        "working_plan": tr("Working out the plan"),
        "working_strain": tr("Looking at what strains"),
        "working_beside": tr("Setting two plans side by side"),
        "working_page": tr("Making the pages"),
        "working_picture": tr("Reading the picture"),
        "working_measures": tr("Measuring"),
        "old_stays": tr("What is shown stays and can be used."),
        "seconds": tr("{seconds} s so far."),
        "stop": tr("Stop"),
        "stopped": tr("Stopped. What was shown stays."),
        "again": tr("Try again"),
        "defect": tr("Something went wrong"),
        "unreachable": tr("The page has lost its server. Is deskmend still running in its window?"),
        "faults": tr("This case cannot be read yet"),
        "fault_read": tr('Read: "{read}".'),
        "fault_allowed": tr("Allowed: {allowed}."),
        "fault_line": tr("line {line}"),
        "changed": tr("Somebody changed this meanwhile, in another window or program. Nothing was written."),
        "read_anew": tr("Read it anew"),
        "money": tr("Money to spend"),
        "cheaper": tr("One plan cheaper"),
        "dearer": tr("One plan dearer"),
        "left_column": tr("strain left"),
        "strain_left": tr("Strain left"),
        "summary_of": tr("Strain {now} now, {left} left"),
        "no_fit": tr("No plan keeps to all wishes"),
        "give_up": tr("Give up one of these:"),
        "must_line": tr("Must: {title}"),
        "never_line": tr("Never: {title}"),
        "make_free": tr("Free: {title}"),
        "raise_money": tr("Raise money to {money}"),
        "money_line": tr("Money: {money}"),
        "steps_follow": tr("The steps follow."),
        "steps_of_before": tr("What is shown below is still the plan before."),
        "wishes": tr("Wishes"),
        "wishes_help": tr("The plan is worked out again after each choice."),
        "must": tr("Must"),
        "free": tr("Free"),
        "never": tr("Never"),
        "other_fixes": tr("Other fixes"),
        "keep_wishes": tr("Write these wishes into the case"),
        "kept_wishes": tr("The wishes are in the case."),
        "drop_wishes": tr("Back to the wishes of the case"),
        "set_beside": tr("Set beside another plan"),
        "first_kept": tr("First plan: {plan}. Now change money or wishes for the second."),
        "show_both": tr("Show both"),
        "forget_first": tr("Forget the first"),
        "two_plans": tr("Two plans side by side"),
        "only_here": tr("Only here"),
        "in_both": tr("In both"),
        "other_size": tr("Another size"),
        "nothing_of_its_own": tr("Nothing of its own."),
        "to_buy": tr("To buy"),
        "nothing_to_buy": tr("Nothing to buy."),
        "close": tr("Close"),
        "drawing": tr("The place, drawn to scale"),
        "drawing_key": drawing_key(),
        "from_above": tr("From above"),
        "figures": tr("Figures of the drawing"),
        "what": tr("what"),
        "estimated": tr("Estimated, not measured: {measure}."),
        "steps": tr("Steps"),
        "how": tr("How"),
        "how_of": tr("How: {title}"),
        "why": tr("Why:"),
        "recheck": tr("After two weeks:"),
        "all_together": tr("All together:"),
        "set_up": tr("Then make and set up"),
        "kept_for_later": tr("Bought, but not needed now:"),
        "work": tr("The work takes {time}."),
        "only_if": tr("Only if it happens"),
        "by_part": tr("Where the strain is"),
        "part": tr("part of the body"),
        "now": tr("now"),
        "with_plan": tr("with this plan"),
        "bars_key": tr("Broken outline: now. Solid: left with this plan."),
        "bars_key_now": tr("Longer bars: more strain."),
        "sure": tr("How sure this is"),
        "remarks": tr("Remarks"),
        "fit": tr("What does not fit"),
        "waits": tr("The plan can wait until you have had care"),
        "strain_line": tr(
            "Strain: hours a day in which one part of the body is out of its good range, added up over all "
            "parts."
        ),
        "strain_help": tr(
            "Strain counts hours a day. One hour counts once for each part of the body that is out of its "
            "good range. Parts that trouble you count for more. It does not measure pain."
        ),
        "strains_title": tr("What strains"),
        "one_by_one": tr("One by one, the most first"),
        "where": tr("where"),
        "hours": tr("strain-hours a day"),
        "nothing_strains": tr("Nothing is out of its good range."),
        "page_title": tr("Print or hand over"),
        "page_help": tr(
            "One file for each reader. It needs no network, and is made from the case as it stands in its "
            "file."
        ),
        "for_worker": tr("For the person at this place"),
        "for_worker_help": tr("What to do and buy, step by step, with a slider over every budget."),
        "for_employer": tr("For the employer or landlord"),
        "for_employer_help": tr(
            "What is asked of them and what it costs: nothing of anybody's health, and no name of the case. "
            "Its figures count every part of the body alike, so they may differ from those of the plan."
        ),
        "for_assessor": tr("For the assessor"),
        "for_assessor_help": tr(
            "Figures, ranges, scores, sources and proof. It tells of the person's health."
        ),
        "made_for": tr("{reader}: the file is ready"),
        "make_page": tr("Make the file"),
        "open_made": tr("Open it in a new window"),
        "save_made": tr("Write it into the folder"),
        "saved_made": tr("{file} is in the folder."),
        "print_help": tr("To print, open it and use the print command of your browser."),
        "picture_title": tr("Measure from a picture"),
        "picture_help": tr(
            "One picture of the person at work gives most measures at once. Take it like this:"
        ),
        "picture_far": tr("From the side, 3 to 4 m away, the camera level with the desk; zoom in."),
        "picture_sheet": tr("An A4 sheet or a bank card upright beside the near hip, square to the camera."),
        "picture_whole": tr("The whole person in view, the screen and some floor too."),
        "choose_picture": tr("Choose a picture"),
        "picture_dropped": tr(
            "The picture goes to deskmend on this machine and nowhere else. It is held in memory while you "
            "mark it, and never written anywhere."
        ),
        "sheet_is": tr("The sheet is"),
        "faces": tr("The person faces"),
        "left_side": tr("left"),
        "right_side": tr("right"),
        "ground": tr(
            "The picture. Arrow keys move the cross, with Shift ten times as far; Enter sets the mark."
        ),
        "mark_number": tr("Mark {number} of {whole}"),
        "mark_set": tr("Set mark {number}"),
        "mark_is_set": tr("{name}: set."),
        "mark_not_seen": tr("{name}: cannot be seen."),
        "marks_unfit": tr("These marks do not fit yet"),
        "marks_done": tr("All marks are looked at. Choose one in the list to set it again."),
        "move_left": tr("Move the cross left"),
        "move_up": tr("Move the cross up"),
        "move_down": tr("Move the cross down"),
        "move_right": tr("Move the cross right"),
        "setting_help": tr("Drag, tap, or use the arrows. The sheet gives the scale."),
        "cannot_see": tr("Cannot see it"),
        "all_marks": tr("All marks"),
        "set_word": tr("is set"),
        "not_seen_word": tr("cannot be seen"),
        "open_word": tr("still to set"),
        "measured_title": tr("Measured so far"),
        "no_measures": tr("Set the four corners of the sheet and some points first."),
        "doubts": tr("What seems wrong"),
        "measure": tr("measure"),
        "value": tr("value"),
        "between": tr("95 % between"),
        "tape_these": tr("Measure these with a tape"),
        "not_marked": tr("Not marked"),
        "taped": tr("One taped length makes all others surer:"),
        "taped_value": tr("Taped length, as 742 mm or 74.2 cm"),
        "take_tape": tr("Add it"),
        "tape_told": tr("{name}: {value} taped"),
        "tape_away": tr("Take away: {name}"),
        "which_place": tr("The picture shows"),
        "looked_at_marks": tr("I have looked at every mark: each is where it belongs."),
        "take_measures": tr("Take the measures into the case"),
        "drop_picture": tr("Drop the picture"),
        **_casebook_words(),
        "in_the_case": tr("Now in the case"),
        "none_taken": tr("Nothing: what the case says already is surer."),
        "kept_as_they_were": tr("Kept as the case says"),
    }


def _casebook_words() -> dict[str, str]:
    """Words of the casebook's screens."""
    return {
        "casebook": tr("Casebook"),
        "casebook_what": tr("Visits and plans given, what was done, how it felt, and another look after."),
        "open_casebook": tr("Open the casebook"),
        "begin_casebook": tr("Begin a casebook"),
        "casebook_help": tr(
            "One file holds it all, under keys of your own choosing: take none that tells who it is."
        ),
        "nobody_yet": tr("Nobody stands in this casebook yet. It begins with the first visit."),
        "key": tr("Key"),
        "visits": tr("Visits"),
        "planned_steps": tr("Steps planned"),
        "in_place": tr("in place"),
        "given_up": tr("given up"),
        "last_visit": tr("Last visit"),
        "first_visit": tr("Write down a first visit"),
        "new_key": tr("Key of the person"),
        "new_key_help": tr("Letters, digits, _ and -. Who is there already is opened by a click above."),
        "the_case": tr("Case"),
        "day": tr("Day; today if left empty"),
        "budget_in_hand": tr("Money in hand; the case's own if left empty"),
        "note": tr("Note, in one line"),
        "write_visit": tr("Work out the plan and write the visit down"),
        "no_case_for_visit": tr("There is no case in this folder to visit."),
        "learning": tr("What it teaches"),
        "write_learned": tr("Write a file that plans read"),
        "learned_help": tr("Plans read it with --learned."),
        "sharing": tr("What may be shared"),
        "write_counts": tr("Write these counts as a table"),
        "look_again": tr("Look again"),
        "look_again_help": tr(
            "Take the case as it is now. What stands here as done is added to it, unless you measured with "
            "all of it in place. Nothing is written before you say so."
        ),
        "measured_in_place": tr("The case was measured with everything in place."),
        "recheck_now": tr("Compare before, planned and reached"),
        "working_recheck": tr("Looking again"),
        "keep_recheck": tr("Write it down as a visit, with the new plan"),
        "write_drawn": tr("Write a page with both drawn into the folder"),
        "write_next": tr("Write a case to go on from into the folder"),
        "open_next": tr("Plan from there"),
        "two_drawn": tr("Drawn side by side"),
        "first_visit_of": tr("First visit, {day}"),
        "reached_now": tr("Now, with what is in place"),
        "not_done_here": tr("Not done so here."),
        "done_title": tr("What was done"),
        "done_which": tr("Steps of the plan given last"),
        "no_steps_planned": tr("The plan given last has nothing to do."),
        "other_fix": tr("Another fix or size, named as kitchen.screen_books=105"),
        "done_how": tr("What became of them"),
        "done_kept": tr("done, and in use"),
        "done_given_up": tr("given up again"),
        "paid": tr("Paid for these together, in {currency}"),
        "why_line": tr("Why, in one line"),
        "write_down": tr("Write it down"),
        "done_written": tr("What was done is written down."),
        "felt_title": tr("How it felt"),
        "felt_help": tr("0 is nothing, 10 the worst. Leave out what was not asked."),
        "felt_written": tr("How it felt is written down."),
        "another_visit": tr("Another visit"),
        "another_visit_help": tr("A new plan is worked out for the case as its file says it, and given."),
        "visit_written": tr("The visit is written down."),
        "all_kept": tr("All that is kept"),
        "show_kept": tr("Show all that is kept"),
        "erase": tr("Take this person out"),
        "erase_help": tr("Nothing of the person stays in the file or beside it. It cannot be undone."),
        "exports_stay": tr("Written from the casebook, and not erased:"),
        "case_files_stay": tr("The cases were read from here, and are not erased:"),
        "type_key": tr("Type {key} once more"),
        "erase_now": tr("Erase for good"),
        "erased": tr("Erased"),
        "to_casebook": tr("Back to the casebook"),
    }


Answer = dict[str, Any]
"""What the engine answers, and what a screen is filled with."""

_IMPORT = re.compile(r'^import \{([^}]*)\} from "\./([a-z_]+\.js)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|const|let|class) )", re.MULTILINE)
_EXPORTED = re.compile(r"^export (?:async )?(?:function|const|let|class) (\w+)", re.MULTILINE)
_DRAWN = re.compile(r"^g \..*$", re.MULTILINE)
"""Lines of the report's style sheet that say how drawings look."""


def rendered(template: str, **values: Any) -> Markup:
    """A piece of HTML from a template."""
    return Markup(_environment().get_template(template).render(words=words(), **values))


def screen(template: str, module: str, given: Mapping[str, Any], **values: Any) -> tuple[str, str]:
    """A whole screen and its content policy; `given` is what its module is told."""
    style, script = _style(), inlined(module)
    told = json.dumps({**given, "words": words()}, ensure_ascii=False).replace("<", "\\u003c")
    html = rendered(
        template,
        language=current_language(),
        style=Markup(style),
        script=Markup(script),
        given=Markup(told),
        **values,
    )
    # Nothing goes out but to this server, and no other page may hold it in a frame.
    more = "connect-src 'self'; frame-ancestors 'none'; "
    return str(html), content_policy(style, script, pictures="data: blob:", more=more)


@cache
def inlined(name: str) -> str:
    """A module with those that it imports, as one text that can be let in by its hash.

    Each one imported becomes a function that is called once, so that its names stay its own.
    """
    known: dict[str, str] = {}

    def own(one: str) -> str:
        return f"module_{one.removesuffix('.js')}"

    def body(one: str) -> str:
        text = _module(one)
        for _, other in _IMPORT.findall(text):
            if other not in known:
                known[other] = ""
                told = body(other)
                given = ", ".join(_EXPORTED.findall(told))
                inside = _EXPORT.sub("", told)
                known[other] = f"const {own(other)} = (() => {{\n{inside}\nreturn {{ {given} }};\n}})();\n"
                order.append(other)
        return _IMPORT.sub(lambda found: f"const {{{found[1]}}} = {own(found[2])};\n", text)

    order: list[str] = []
    main = body(name)
    return "\n" + "".join(known[one] for one in order) + main


def _module(name: str) -> str:
    """The text of a module: of this page, or of those that other pages have too."""
    folder = files("deskmend.local_page").joinpath("modules", name)
    return folder.read_text(encoding="utf-8") if folder.is_file() else template_text(name)


@cache
def _style() -> str:
    drawn, asked = template_text("page.css"), template_text("questions.css")
    return "\n".join(["", *_DRAWN.findall(drawn), asked, _file("templates", "screens.css")])


def _file(folder: str, name: str) -> str:
    return files("deskmend.local_page").joinpath(folder, name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    return page_environment("deskmend.local_page")
