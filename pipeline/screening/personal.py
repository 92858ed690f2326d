"""The second net under the list of allowed columns: text that looks like a person's details.

Patterns cannot find every name, so they are no control by themselves; the control is that only
declared columns are read. What looks personal is refused and never stored or shown.
"""

import polars as pl

from schemas.exports.catalogue import ColumnSpec

MAIL = r"[^\s@]+@[^\s@]+\.[^\s@]+"
DAY = r"\b(?:\d{4}[-./]\d{1,2}[-./]\d{1,2}|\d{1,2}[-./ ]\d{1,2}[-./ ](?:\d{4}|\d{2}))\b"
MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
WRITTEN_DAY = rf"(?i)\b\d{{1,2}}\.? ?(?:{MONTHS})[a-z]*\.? ?\d{{2,4}}\b"
BORN = r"(?i)\b(?:born|dob|d\.o\.b|geb|née?)\b"
# Nine to fifteen digits that start with + or 0, or stand in three groups and more.
PHONE_SIGNS = r"^[+0-9 ()./-]+$"
PHONE_START = r"^(?:\+|0|\(0)"
PHONE_GROUPS = r"\d[ ()./-]+\d+[ ()./-]+\d"
PHONE_INSIDE = r"(?:^|[^\d.,])(?:\+\d|0\d)[ ()./-]?(?:\d[ ()./-]?){7,13}(?:$|[^\d])"
TITLE = (
    r"(?i)^(?:mr|mrs|ms|miss|mx|dr|prof|frau|herr|mme|mlle|monsieur|madame|sig|sra?)\b\.? +\p{L}"
)
NAME_WORD = r"\p{Lu}\p{Ll}+(?:[-']\p{Lu}?\p{Ll}+)?"
NAME = (
    rf"^{NAME_WORD}(?: (?:van|von|de|del|di|da|la|le|bin|al|\p{{Lu}}\.?|{NAME_WORD}))* {NAME_WORD}$"
)
SHOUTED = r"^\p{Lu}{3,}(?: \p{Lu}{3,})+$"
REVERSED = rf"^{NAME_WORD},? \p{{Lu}}\.$"
# Words of the trade that make a text of capitalised words no name.
TRADE = (
    "aid|auto|basic|bench|box|chamber|clinic|coupler|cycle|daily|deep|desk|door|dry|dryer|drying|"
    "eco|extended|extra|fast|first|floor|full|gentle|half|heat|home|hot|intensive|lab|left|long|"
    "low|main|medium|mode|moist|moisture|new|night|normal|old|programme|program|quick|rapid|"
    "right|room|second|sensor|set|short|slow|special|standard|station|super|test|third|timed|"
    "ultra|unit|vacuum|warm|water|wet"
)
TRADE_WORD = rf"(?i)\b(?:{TRADE})\b"
RULE = "no_personal_details"


# The day an aid was fitted, if it lies before any aid in use was made: rather a birth date.
FITTED, OLD_DAY = "fitted_on", r"^(?:18\d\d|19[0-7]\d)-"


def is_watched(spec: ColumnSpec) -> bool:
    """Tell whether a column takes text of the clinic's own: neither words of a list nor hashed.

    A test box is one that the group lists, or hashed before: the digits of a hash are no phone.
    """
    if spec.name == FITTED:
        return True
    is_own_text = spec.dtype == pl.String and spec.vocabulary is None and spec.hashed is None
    return is_own_text and spec.name not in {"site_id", "test_box_id"}


def looks_personal(spec: ColumnSpec, *, has_names: bool) -> pl.Expr:
    """Return whether a text looks like a person's details; null text does not.

    Args:
        spec: a watched column. Names are looked for in codes alone: a text for people, such as a
            site's name, is made of capitalised words.
        has_names: look for names at all; codes of reference tables are the group's own words.
    """
    text = pl.col(spec.name).str.normalize("NFKC").str.strip_chars()
    if spec.name == FITTED:
        return text.str.contains(OLD_DAY).fill_null(value=False)
    digits = text.str.count_matches(r"\d")
    phone = (
        text.str.contains(PHONE_SIGNS)
        & digits.is_between(9, 15)
        & (text.str.contains(PHONE_START) | text.str.contains(PHONE_GROUPS))
    )
    found = (
        text.str.contains(MAIL)
        | text.str.contains(DAY)
        | text.str.contains(WRITTEN_DAY)
        | text.str.contains(BORN)
        | phone
        | text.str.contains(PHONE_INSIDE)
    )
    if has_names and not spec.text:
        named = pl.any_horizontal(
            text.str.contains(form) for form in (NAME, REVERSED, SHOUTED, TITLE)
        )
        found = found | (named & ~text.str.contains(TRADE_WORD))
    return found.fill_null(value=False)


# In running text: nine digits and more with what parts them, a title before a capital.
PHONE_WITHIN = r"(?:\+|\b0|\(0)[0-9 ()./-]{8,}"
TITLE_WITHIN = (
    r"(?i:\b(?:mr|mrs|ms|miss|mx|dr|prof|frau|herr|mme|mlle|monsieur|madame)\b)\.? +\p{Lu}"
)


def tells_a_person(text: str) -> bool:
    """Tell whether a sentence of the group's own names or reaches a person; days are no sign."""
    given = pl.Series([text]).str.normalize("NFKC")
    patterns = (MAIL, BORN, PHONE_WITHIN, TITLE_WITHIN)
    return any(bool(given.str.contains(pattern)[0]) for pattern in patterns)
