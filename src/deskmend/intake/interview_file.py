"""Answers of an interview that was stopped: kept beside the case to be, and read with the same care."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from deskmend.errors import FaultList, did_you_mean
from deskmend.intake.fields import FieldFault
from deskmend.intake.interview import Question, read_answer
from deskmend.intake.interview_answers import Answers
from deskmend.intake.records import fault_at
from deskmend.intake.tree import to_plain
from deskmend.intake.yaml_tree import load_tree

__all__ = ["ANSWERS_FORMAT", "answers_text", "load_answers"]

ANSWERS_FORMAT = "deskmend-answers/1"
MAX_BYTES = 100_000
"""Largest file of answers read [bytes]."""


def answers_text(answers: Answers) -> str:
    """Write answers as a file.

    Parameters
    ----------
    answers : Answers
        What was answered; None where a question was left out.
    """
    lines = [
        '# Answers kept by "deskmend new", so that it can go on from here. It may be deleted.',
        f"format: {ANSWERS_FORMAT}",
        "answers:",
    ]
    for key, text in answers.items():
        lines.append(f"  {key}:" if text is None else f"  {key}: {json.dumps(text)}")
    return "\n".join(lines) + "\n"


def load_answers(path: Path, every: Sequence[Question]) -> dict[str, str | None]:
    """Read answers that were kept, and check each as if it had just been typed.

    Parameters
    ----------
    path : Path
        The file.
    every : sequence of Question
        From `deskmend.intake.interview.questions`.

    Returns
    -------
    dict
        Answers that the ones before call for, in the order of the questions.

    Raises
    ------
    deskmend.errors.InputFaults
        The file cannot be read, or an answer in it cannot be taken; every fault.
    """
    tree = load_tree(path, MAX_BYTES)
    plain = to_plain(tree.root)
    faults = FaultList(str(path))

    def fault(loc: tuple[str, ...], read: str | None, allowed: str, hint: str = "", note: str = "") -> None:
        faults.extend([fault_at(loc, plain, str(path), tree, read, allowed, hint, note)])

    groups = plain if isinstance(plain, dict) else {}
    written, kept = groups.get("format"), groups.get("answers")
    if written != ANSWERS_FORMAT:
        fault(("format",), written if isinstance(written, str) else None, ANSWERS_FORMAT)
    if not isinstance(kept, dict):
        if kept is not None or "answers" not in groups:
            fault(("answers",), None, "answers by question", note="are no group of keys")
        kept = {}
    known = {question.key for question in every}
    for key in kept:
        if key not in known:
            fault(("answers", key), key, "a question of the interview", did_you_mean(key, known))
    answers: dict[str, str | None] = {}
    for question in every:
        if question.key not in kept or not question.asked(answers):
            continue
        text = kept[question.key]
        if text is None:
            if not question.needed:
                answers[question.key] = None
        elif not isinstance(text, str):
            fault(("answers", question.key), None, "one text", note="is a group or a list")
        else:
            try:
                answers[question.key] = read_answer(question, text, answers, every)
            except FieldFault as wrong:
                fault(("answers", question.key), text, wrong.allowed, wrong.hint, wrong.note)
    faults.raise_if_any()
    return answers
