"""What the plan weighs, and how good it is, in words."""

from __future__ import annotations

from gapmap.coverage.reasons import some
from gapmap.settings import VisitsSection


def close_to_best(value: float, highest: float, visits: int, proven: bool, settled: int = 0) -> str:
    """How close to the best possible a plan is, what is settled beforehand apart.

    Examples
    --------
    >>> close_to_best(97.0, 100.0, 40, False)
    'The 40 planned visits are worth 97.0 ... so this one reaches at least 97.0 % of the best possible.'
    >>> close_to_best(6.8, 6.8, 1, True)
    'The 1 planned visit is worth 6.8 by the weights of the area file; no plan is better.'
    >>> close_to_best(0.0, 0.0, 0, True)
    'There was nothing to plan.'
    >>> close_to_best(0.0, 0.0, 0, True, settled=4)
    'There was nothing to plan beside the 4 settled visits.'
    """
    if not visits:
        beside = f" beside the {some(settled, 'settled visit')}" if settled else ""
        return (
            f"There was nothing to plan{beside}."
            if highest <= 0
            else "No visit gains more than it costs."
        )
    planned = some(visits, "planned visit is", "planned visits are")
    worth = f"The {planned} worth {value:.1f} by the weights of the area file"
    if proven:
        return f"{worth}; no plan is better."
    share = int(1000 * value / highest) / 10
    return (
        f"{worth}; no plan can be worth more than {highest:.1f}, so this one reaches at least {share:.1f} % of the "
        "best possible."
    )


def objective_in_words(section: VisitsSection) -> list[str]:
    """What the plan weighs and what the rules are, a sentence each, with the numbers of the area file.

    Examples
    --------
    >>> print(objective_in_words(VisitsSection(no_go=("OR34M",)))[-1])
    Nobody is sent to OR34M (no_go).
    """
    lines = [
        "A visit is worth the species it is expected to find in its square and get named: each counts by the chance "
        "that it lives there times the chance that this visit, in that month, at that time of day and by those people, "
        "finds it.",
        "What an earlier visit has probably found already counts less: two visits to one square share its species.",
        f"Finding again what was known before counts {section.refind_worth:g}, where a species new to the square "
        "counts 1 (refind_worth).",
        f"A square a visit or two from well covered counts {1 + section.near_worth:g} times (near_worth).",
        f"A kilometre from home, one way, costs {section.cost_a_km:g} finds (cost_a_km).",
        f"A field day is taken to amount to {section.lists_a_visit:g} ordinary lists (lists_a_visit).",
        f"Of species beyond a volunteer's means of naming {_percent(section.voucher_share)} count (voucher_share), of "
        f"groups a volunteer does not name {_percent(section.other_groups_share)} (other_groups_share), of species "
        f"usually found by a method a volunteer does not use {_percent(section.other_method_share)} "
        "(other_method_share).",
        f"No square gets more than {some(section.most_per_square, 'visit')} (most_per_square).",
    ]
    if section.pairs_only:
        lines.append("Nobody goes alone (pairs_only).")
    elif section.two_people or section.two_people_at:
        at = ", ".join((*section.two_people_at, *section.two_people))
        lines.append(f"Nobody goes alone there or then: {at}.")
    if section.no_go:
        lines.append(f"Nobody is sent to {', '.join(section.no_go)} (no_go).")
    for closed in section.protected:
        why = f": {closed.why}" if closed.why else ""
        lines.append(f"Left alone in the months {closed.months}: {', '.join(closed.squares)} (protected{why}).")
    if section.tidal:
        lines.append(f"Only for those who say yes under tides: {', '.join(section.tidal)} (tidal).")
    return lines


def _percent(share: float) -> str:
    return f"{100 * share:g} %"
