"""Cap and floor: what the rules permit one person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from deskmend.grants.person import Applicant, Column, pareto
from deskmend.grants.terms import Terms

__all__ = ["PersonalRules", "personal_rules"]


@dataclass(frozen=True)
class PersonalRules:
    """What cap and floor mean for each person.

    Attributes
    ----------
    cap : int or None
        Most for one person at listed prices [minor units].
    ceiling : mapping of str to int
        Most strain that a person may be left with, for the sake of the floor [millionths of h/day].
    least : mapping of str to int
        Least strain that a person can reach within the cap [millionths of h/day].
    """

    cap: int | None = None
    ceiling: Mapping[str, int] = field(default_factory=dict)
    least: Mapping[str, int] = field(default_factory=dict)

    def admitted(self, person: Applicant, strain: int, listed: int, relaxed: bool = False) -> int | None:
        """Give the strain a plan counts with, or None where it is not permitted.

        Parameters
        ----------
        person : Applicant
            Whose plan.
        strain : int
            What it leaves [millionths of h/day].
        listed : int
            Its listed price [minor units].
        relaxed : bool
            Admit plans above the cap, with no less strain than the cap allows.

        Returns
        -------
        int or None
            The strain; also None for what is worse than the free fixes.
        """
        if strain > self.ceiling.get(person.id, person.strain_free):
            return None
        if self.cap is not None and listed > self.cap:
            return max(strain, self.least[person.id]) if relaxed else None
        return strain


def personal_rules(
    applicants: Sequence[Applicant], plans: Mapping[str, Sequence[Column]], terms: Terms
) -> PersonalRules:
    """Work out what cap and floor mean for each person.

    Parameters
    ----------
    applicants : sequence of Applicant
        Whom.
    plans : mapping of str to sequence of Column
        The Pareto set of each at listed prices.
    terms : Terms
        Cap and floor.
    """
    if terms.cap is None and terms.floor is None:
        return PersonalRules()
    ceiling: dict[str, int] = {}
    least: dict[str, int] = {}
    for person in applicants:
        within = [
            column
            for column in pareto(plans[person.id], terms.base)
            if (terms.cap is None or column.cost(terms.base) <= terms.cap)
            and column.strain <= person.strain_free
        ]
        least[person.id] = min(column.strain for column in within)
        useful = [column for column in within if column.strain < person.strain_free]
        if terms.floor is not None and useful:
            enough = [column for column in useful if column.cost(terms.base) >= terms.floor]
            ceiling[person.id] = (enough or useful[-1:])[0].strain
    return PersonalRules(terms.cap, ceiling, least)
