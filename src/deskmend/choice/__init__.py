"""Exact choice among options: problems in whole numbers, two engines, one verifier.

It knows nothing of what the options are.  Importing it loads no solver.
"""

from deskmend.choice.engines import frontier, solve
from deskmend.choice.problem import Bound, Decision, InvalidProblem, Item, Mask, Node, Option, Problem, Table
from deskmend.choice.result import Choice, Disagreement, NothingFound, Scored, evaluate, verify

__all__ = [
    "Bound",
    "Choice",
    "Decision",
    "Disagreement",
    "InvalidProblem",
    "Item",
    "Mask",
    "Node",
    "NothingFound",
    "Option",
    "Problem",
    "Scored",
    "Table",
    "evaluate",
    "frontier",
    "solve",
    "verify",
]
