"""The likely cause of a refusal and the line that clears it; free of heavy imports.

The cause is read from the rule and from the form of what was found ("digits with a comma"),
never from the value.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from pipeline.intake.forms import EMPTY, FORMS, SHAPE
from schemas.rules import FEW, RULES, SLIP, Kind

WITHHELD = "a value of the right kind outside the rule"


class Remedy(NamedTuple):
    """Why a rule was not met, most likely, and what to do once for all such rows."""

    cause: str
    fix: str


def form_of(found: str | None) -> str:
    """Return the form within a shape ("text, 4 characters: digits with a comma"), or nothing."""
    if found is None or not found.startswith(SHAPE):
        return ""
    return found.partition(": ")[2]


def shape_only(found: str | None) -> str:
    """Return what may go into a list that leaves the store: a shape, never a value."""
    if not found:
        return ""
    if found.startswith(SHAPE) or found == EMPTY or " fields, the header has " in found:
        return found
    return WITHHELD


def remedy(said: Mapping[str, Any], rows: int) -> Remedy:
    """Tell the likely cause of one fault and the fix.

    Args:
        said: table_name, rule, form of what was found as `form_of` returns it, and of
            `contract_rule` advice, likely_cause, fix, likely_cause_if_few, fix_if_few; these are
            null where a part of an earlier version names a rule that is no more.
        rows: rows of the site with the same fault: a few are slips, to be corrected in their
            cells, and no matter for the mapping.
    """
    advice = said["advice"] or "compare the row with the data dictionary"
    is_slip = rows < FEW
    rule = RULES.get(said["rule"])
    for form in FORMS:
        if said["form"] == form.told and (rule is None or rule.kind not in BEFORE_FORM):
            fix = f"add to mapping.toml: [{said['table_name']}] {form.line}"
            return Remedy(form.cause, fix if form.line and not is_slip else advice)
    few = "_if_few" if is_slip else ""
    return Remedy(said[f"likely_cause{few}"] or SLIP, said[f"fix{few}"] or advice)


# Rules whose own answer holds in whatever form the value is.
BEFORE_FORM = (Kind.WORD, Kind.CHAMBER, Kind.MODEL, Kind.SITE)
