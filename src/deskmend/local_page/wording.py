"""Headings, buttons and short lines of the local page, by the names that its templates and modules know."""

from __future__ import annotations

from deskmend.language import tr

__all__ = ["words"]


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
        "hand_over": tr("Hand over"),
        "no_case": tr("No case here yet"),
        "no_case_help": tr(
            "A case is a file that tells of one person and one workplace. Try an example first: it is "
            "invented."
        ),
        "take_example": tr("Put the example into this folder"),
        "taken_example": tr("The example is in the folder."),
        "exists_already": tr("A file of that name is there already. Nothing was written."),
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
        "seconds": tr("{seconds} seconds so far."),
        "stop": tr("Stop"),
        "stopped": tr("Stopped. What was shown stays."),
        "again": tr("Try again"),
        "defect": tr("Something went wrong"),
        "unreachable": tr("The page has lost its server. Is deskmend still running in its window?"),
        "faults": tr("This case cannot be read yet"),
        "fault_read": tr('Read: "{read}".'),
        "fault_allowed": tr("Allowed: {allowed}."),
        "fault_line": tr("line {line}"),
        "changed": tr(
            "Somebody changed this case meanwhile, in another window or program. Nothing was written."
        ),
        "read_anew": tr("Read it anew"),
        "too_many": tr("Too much is waiting. Try again in a moment."),
        "too_large": tr("That is too large."),
        "money": tr("Money to spend"),
        "cheaper": tr("One plan cheaper"),
        "dearer": tr("One plan dearer"),
        "left": tr("left"),
        "strain_left": tr("Strain left"),
        "summary_of": tr("Strain {now} now, {left} left"),
        "no_fit": tr("No plan keeps to all wishes"),
        "give_up": tr("Give up one of these:"),
        "must_line": tr("Must: {title}"),
        "never_line": tr("Never: {title}"),
        "make_free": tr("Free: {title}"),
        "raise_money": tr("Raise money to {money}"),
        "money_line": tr("Money: {money}"),
        "wishes": tr("Wishes"),
        "wishes_help": tr("The plan is worked out again after each choice."),
        "wish_of": tr("Wish: {title}"),
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
        "drawing_key": tr("Thin grey lines: now. Strong lines: with this plan."),
        "from_above": tr("From above"),
        "figures": tr("Figures of the drawing"),
        "what": tr("what"),
        "estimated": tr("Estimated, not measured: {measure}."),
        "steps": tr("Steps"),
        "how": tr("How"),
        "how_of": tr("How: {title}"),
        "why": tr("Why:"),
        "recheck": tr("After two weeks:"),
        "buy": tr("Buy"),
        "all_together": tr("All together:"),
        "set_up": tr("Then make and set up"),
        "kept_for_later": tr("Kept for later, not used now:"),
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
            "One file with the plan for the person, a part for the employer or landlord, and one for the "
            "assessor. It needs no network. It is made from the case as it stands in its file."
        ),
        "page_whole": tr(
            "The file holds all three parts, health details too. Print only the part that its "
            "reader should have."
        ),
        "make_page": tr("Make the file"),
        "open_made": tr("Open it in a new window"),
        "save_made": tr("Write it into the folder"),
        "saved_made": tr("{file} is in the folder."),
        "print_help": tr("To print, open it and use the print command of your browser."),
    }
