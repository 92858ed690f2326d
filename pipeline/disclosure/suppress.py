"""Hide small counts in what is shared, and whatever would reveal them."""

from collections.abc import Mapping
from graphlib import TopologicalSorter

import polars as pl

from pipeline.disclosure.complement import DisclosureError
from pipeline.disclosure.rule import CountsNoPeople, CountsPeople, CountsPeopleBeside, Rule

# What the pages read beside the measures.
OTHERS: Mapping[str, Rule] = {
    "row_account": CountsNoPeople("rows of files"),
    "correction": CountsNoPeople("reviewed fixes of files"),
    "quarantine_summary": CountsNoPeople("rows of files by rule"),
    "refused_summary": CountsNoPeople("values of files by rule"),
    "dose_reading": CountsNoPeople("doses of water by chamber"),
    "dose_month": CountsNoPeople("days of dose checks by chamber and month"),
    "site": CountsNoPeople("clinics"),
    "refresh_run": CountsNoPeople("runs"),
    "setting": CountsNoPeople("settings"),
    "dictionary": CountsNoPeople("columns"),
}


def suppress(
    frames: Mapping[str, pl.DataFrame], smallest_cell: int, rules: Mapping[str, Rule]
) -> dict[str, pl.DataFrame]:
    """Return the tables as they may be shared: small counts null, and what would reveal them.

    A count of 1 to smallest_cell - 1 is small; 0 may be shown. Rates go whole where aids,
    successes, failures or wearers are few, and then say is_small. Counts by month are put
    together over the site's whole period, on its first month. Runs, dose checks, files and
    loads left out for their chamber count no people and stay.

    Args:
        frames: tables by name, each with a rule.
        smallest_cell: least count that may be shown, 1 or more; 1 hides nothing.
        rules: how each measure may be shared; `OTHERS` holds the rest.

    Raises:
        DisclosureError: for a table without a rule or one that stays inside, and when a small
            count could still be worked out from what is left.
    """
    known = {name: _rule_of(name, {**OTHERS, **rules}) for name in frames}
    shown: dict[str, pl.DataFrame] = {}
    for name in _in_order(known):
        frame, rule = frames[name], known[name]
        if frame.is_empty() or isinstance(rule, CountsNoPeople):
            shown[name] = frame
        elif isinstance(rule, CountsPeople):
            shown[name] = rule.hide(frame, smallest_cell)
        else:
            others = {other: shown[other] for other in rule.rests_on if other in shown}
            shown[name] = rule.hide(frame, others, smallest_cell)
    return {name: shown[name] for name in frames}


def _rule_of(
    name: str, rules: Mapping[str, Rule]
) -> CountsPeople | CountsPeopleBeside | CountsNoPeople:
    rule = rules.get(name)
    if isinstance(rule, CountsPeople | CountsPeopleBeside | CountsNoPeople):
        return rule
    raise DisclosureError(
        f"There is no rule by which the table {name} may be shared.",
        found=f"it stays inside: {rule.because}" if rule is not None else None,
        done="No page was written; the warehouse is unchanged.",
        todo="A measure says in its record how it is shared.",
    )


def _in_order(rules: Mapping[str, Rule]) -> tuple[str, ...]:
    """Return the tables, each after those that it rests on."""
    rests = {
        name: [other for other in rule.rests_on if other in rules]
        if isinstance(rule, CountsPeopleBeside) else []
        for name, rule in rules.items()
    }  # fmt: skip
    return tuple(TopologicalSorter(rests).static_order())
