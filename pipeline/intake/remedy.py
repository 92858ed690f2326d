"""The likely cause of a refusal and the line that clears it; free of heavy imports.

The cause is read from the rule and from the form of what was found ("digits with a comma"),
never from the value.
"""

from typing import NamedTuple

FEW = 3
SLIP = "a slip in single rows"
SHAPE = "text, "
EMPTY = "empty"
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


def fixes_told(fixes: int, cleared: int, total: int) -> str:
    """Say how many of the refused rows the first fixes would clear, a row only when all do."""
    verb = "fix clears" if fixes == 1 else "fixes clear"
    share = "all" if cleared == total else f"{100 * cleared / total:.0f} % of"
    return f"{fixes} {verb} {share} {total} refused rows"


def remedy(
    table: str,
    rule: str,
    column: str | None,
    form: str,
    advice: str | None,
    rows: int | None = None,
) -> Remedy:
    """Tell the likely cause of one fault and the fix.

    Args:
        table: the export table.
        rule: the rule's sentence.
        column: the column at fault, if one is.
        form: the form of what was found, as `form_of` returns it.
        advice: what the rule itself advises, used where the mapping cannot help.
        rows: rows of the site with the same fault: a few are slips, to be corrected in their
            cells, and no matter for the mapping; None where it is not known.
    """
    told = advice or "compare the row with the data dictionary"
    is_slip = rows is not None and rows < FEW
    for ending, cause, line in OWN_WORDS:
        if rule.endswith(ending):
            if is_slip and line.startswith("."):
                return Remedy(SLIP, f"correct the cell: {told}")
            return Remedy(cause, _line(table, line.format(column=column)))
    for wanted, cause, line in FORMS:
        if form == wanted:
            return Remedy(cause, _line(table, line) if line and not is_slip else told)
    for part, cause, line in PARTS:
        if part in rule:
            if line and is_slip:
                return Remedy(
                    "a value that cannot be", "look it up in the record; else empty the cell"
                )
            text = line.format(column=column)
            return Remedy(cause, _line(table, text) if line else told)
    return Remedy(SLIP, told)


def _line(table: str, line: str) -> str:
    if line.startswith("reference/"):
        return f"add to {line}"
    if line.startswith("."):
        return f"add to mapping.toml: [{table}{line}"
    return f"add to mapping.toml: [{table}] {line}"


OWN_WORDS = (
    ("is one of the listed words", "the site's own words",
     '.values.{column}] "your word" = "the listed word"'),
    ("is listed in dryers", "a chamber that is not listed",
     "reference/dryers.csv: a line with site and chamber; the rows then enter by themselves"),
    ("is listed in device_models", "a model that is not listed",
     "reference/device_models.csv: a line with the model; the rows then enter by themselves"),
    ("is listed in sites", "a site that is not listed",
     "reference/sites.csv: a line with the site; the rows then enter by themselves"),
)  # fmt: skip
FORMS = (
    ("digits with a comma", "a decimal comma", "decimal_comma = true"),
    ("digits with a mark for below", "a mark for below detection", 'below_detection = ["<0.5"]'),
    ("digits and a unit", "numbers with their unit", ""),
    ("a day in another order", "days written in another order", 'date_order = "dmy"'),
)
PARTS = (
    ("holds no person's details", "text that looks like a person's details", ""),
    ("with 16 digits or more", "long numbers stored as numbers", ""),
    ("not a formula without its answer", "formulas saved without their answers", ""),
    ("holds no error of the spreadsheet", "errors of a formula", ""),
    ("as many fields as the header", "a comma or a line break inside text", ""),
    ("quotation marks enclose", "quotation marks inside text", ""),
    ("is a date and time that exists", "an hour the clocks skipped or repeated, or no date", ""),
    (" is at ", "another unit, or a slip", '.units] {column} = "its unit in your export"'),
    (" is above ", "another unit, or a slip", '.units] {column} = "its unit in your export"'),
    (" is given", "a cell left empty", ""),
    ("is not in the future", "a wrong date, or a clock that is wrong", ""),
    ("agrees with the folder", "a file in another site's folder", ""),
    ("agree on all its rows", "rows of one session that contradict each other", ""),
)  # fmt: skip
