"""What `check` and `map` may show of a file on the terminal of the person whose file it is.

Values of word, number and time columns; ids, other text and whatever looks like a person's
details keep their shape. Nothing shown here is stored, logged or drawn.
"""

import re

import polars as pl

from pipeline.intake.headers import known_words
from pipeline.intake.names import safe_header
from pipeline.screening import personal
from schemas.declare import INSTANT
from schemas.exports.catalogue import ColumnSpec

LONGEST_WORD, LONGEST_NUMBER, LONGEST_TIME, LONGEST_HEADER = 24, 12, 32, 60
MOST_DIGITS = 8
SURNAME_FIRST = re.compile(r"^[^\W\d_][\w'’-]+, ?[^\W\d_][\w'’-]+\.?(?: [^\W\d_][\w'’-]*\.?)*$")
UPPER, LOWER = "[A-ZÀ-ÖØ-Þ]", "[a-zß-öø-ÿ]"


def _form(pattern: str) -> re.Pattern[str]:
    """Return a pattern over classes of letters as Python's own expressions write it."""
    plain = pattern.replace(r"\p{Lu}", UPPER).replace(r"\p{Ll}", LOWER)
    return re.compile(plain.replace(r"\p{L}", r"[^\W\d_]"))


TWO_WORDS = _form(personal.NAME)
OTHER_NAMES = (
    *(_form(form) for form in (personal.REVERSED, personal.SHOUTED, personal.TITLE)),
    SURNAME_FIRST,
)  # fmt: skip
DETAILS = tuple(re.compile(form) for form in (personal.MAIL, personal.WRITTEN_DAY, personal.BORN))
DATE = re.compile(personal.DAY)
DIGITS = re.compile(r"\d")
TIME = re.compile(r"^[\d\s:.,/T+Zz-]*(?:[AaPp]\.?[Mm]\.?)?$")


def shape_of(value: str | None) -> str:
    """Tell a value's length, never the value."""
    if value is None:
        return "empty"
    return f"text, {len(value)} characters"


def looks_personal(value: str) -> bool:
    """Tell whether a text in a column of words looks like a person's details.

    A text of two capitalised words is a name here unless a word of the trade is in it, in one of
    the languages whose headers and words are known.
    """
    text = value.strip()
    if any(form.search(text) for form in DETAILS) or DATE.search(text):
        return True
    if len(DIGITS.findall(text)) > MOST_DIGITS:
        return True
    if TWO_WORDS.match(text) and not known_words(text):
        return True
    return any(form.match(text) for form in OTHER_NAMES) and not known_words(text)


def may_show_value(value: str | None, spec: ColumnSpec) -> bool:
    """Tell whether a cell may be shown: a word, a number or a time, and nothing personal."""
    if value is None or spec.hashed is not None:
        return False
    if spec.vocabulary is not None or spec.dtype == pl.Boolean:
        return len(value) <= LONGEST_WORD and not looks_personal(value)
    if spec.dtype in (pl.Float64, pl.Int64):
        few = len(DIGITS.findall(value)) <= MOST_DIGITS
        return few and len(value) <= LONGEST_NUMBER and not _has_name(value)
    if spec.dtype in (pl.Date, INSTANT):
        is_birth = spec.name == personal.FITTED and re.match(personal.OLD_DAY, value)
        return len(value) <= LONGEST_TIME and bool(TIME.match(value)) and not is_birth
    return False


def _has_name(value: str) -> bool:
    return any(form.search(value) for form in DETAILS) or bool(TWO_WORDS.match(value))


def may_show_header(name: str) -> bool:
    """Tell whether a column's own name may be shown: it is a word of the trade, or no name."""
    if len(name) > LONGEST_HEADER or any(form.search(name) for form in DETAILS):
        return False
    if DATE.search(name) or len(DIGITS.findall(name)) > 4:
        return False
    if safe_header(name, 1) == name or known_words(name):
        return True
    return not TWO_WORDS.match(name) and not any(form.match(name) for form in OTHER_NAMES)
