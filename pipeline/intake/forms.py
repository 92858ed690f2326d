"""The forms of values that are told in place of the values, with the likely cause of each.

A later form that fits wins. Free of heavy imports.
"""

from typing import NamedTuple

SHAPE = "text, "
EMPTY = "empty"


class Form(NamedTuple):
    """One form of a refused value.

    Attributes:
        told: what is said of the value.
        pattern: a regular expression that such values fit.
        cause: why it was not understood, most likely.
        line: the line of a mapping's section that makes such values understood; "" for none.
    """

    told: str
    pattern: str
    cause: str
    line: str


FORMS = (
    Form("digits with a comma", r"^[+-]?\d+,\d+$", "a decimal comma", "decimal_comma = true"),
    Form(
        "digits with a mark for below", r"^[<≤>] ?\d+(?:[.,]\d+)?$", "a mark for below detection",
        'below_detection = ["<0.5"]',
    ),
    Form(
        "digits and a unit", r"^[+-]?\d+(?:[.,]\d+)? ?\p{L}{1,4}$", "numbers with their unit", ""
    ),
    Form(
        "a day in another order", r"^\d{1,2}[./-]\d{1,2}[./-](?:\d{4}|\d{2})(?:[ T].*)?$",
        "days written in another order", 'date_order = "dmy"',
    ),
)  # fmt: skip
