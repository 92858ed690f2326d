"""Labels a reader sees for the words of the tables, and how numbers are printed."""

import math
from collections.abc import Iterable
from datetime import date

import polars as pl

from schemas.chambers import STANDINGS, WORST_FIRST

LABELS = {
    "dead": "dead", "weak": "weak", "other_fault": "other fault", "normal": "working",
    "bte": "behind the ear (BTE)", "bte_slim_tube": "BTE with slim tube",
    "ric": "receiver in canal (RIC)", "ite": "in the ear (ITE)", "itc": "in the canal (ITC)",
    "cic": "completely in canal (CIC)", "iic": "invisible in canal (IIC)",
    "body_worn": "body worn", "cros_transmitter": "CROS transmitter",
    "bone_conduction": "bone conduction", "implant_sound_processor": "implant sound processor",
    "other": "other", "unknown": "recorded as unknown",
    "immersion": "immersion", "splash": "splash", "perspiration": "perspiration",
    "none_known": "no known exposure",
    "under_24h": "under 24 hours", "24_48h": "24 to 48 hours", "2_4_days": "2 to 4 days",
    "4_7_days": "4 to 7 days", "over_7_days": "over 7 days",
    "clean_and_check": "clean and check", "problem_reported": "problem reported",
    "water_incident": "water incident", "follow_up": "follow-up",
    "hfa_gain": "gain (HFA)", "hfa_ospl90": "OSPL90 (HFA)", "thd": "harmonic distortion",
    "ein": "input noise", "any": "any deciding measure",
    "sounds_again": "sounds again", "back_to_normal": "back to normal",
    "improved": "measured improvement", "worsened": "measured worsening", "mixed": "mixed",
    "unchanged": "unchanged", "any_positive_change": "any gain above zero",
    **{name: word.label for name, word in STANDINGS.items()},
    "higher_than_expected": "higher than expected", "as_expected": "as expected",
    "lower_than_expected": "lower than expected", "too_few_to_say": "too few to say",
    "few_aids": "fewer than 30 aids", "few_other_sites": "fewer than 4 other sites",
    "few_expected": "fewer than 5 expected on either side",
    "unseen_elsewhere": "aids or records unlike those elsewhere",
    "few_elsewhere": "too few aids elsewhere to adjust",
    "low_agreement": "grades disagree with measurements",
    "copied_forward": "measurements copied forward", "rows_refused": "many rows refused",
    "many_not_assessed": "many aids not assessed",
    "order_not_recorded": "condition after cleaning not recorded",
    "not_settled": "an excess worth finding is not excluded",
    "first_seen": "first time seen", "under_30_days": "under 30 days",
    "30_89_days": "30 to 89 days", "90_179_days": "90 to 179 days",
    "180_364_days": "180 to 364 days", "365_days_or_more": "a year or more",
    "under_1_year": "under 1 year", "1_2_years": "1 to 2 years", "3_4_years": "3 to 4 years",
    "5_years_or_more": "5 years or more", "after_cleaning": "after cleaning",
    "before_cleaning": "before cleaning",
    "climate not given": "climate not given",
    "first": "first of the day", "second": "second", "third": "third",
    "fourth_or_later": "fourth or later", "under_15_minutes": "under 15 minutes after another",
    "15_59_minutes": "15 to 59 minutes after", "60_179_minutes": "1 to 3 hours after",
    "180_minutes_or_more": "3 hours or more after",
    "loaded_with_quarantine": "loaded, some rows refused",
    "condition_before": "condition before drying", "water_kind": "kind of water",
    "device_style": "style", "power_source": "power source",
    "no_sound": "no sound", "weak_sound": "weak sound", "not_charging": "not charging",
    "fresh": "fresh water", "salt": "salt water", "pool": "pool water", "soapy": "soapy water",
}  # fmt: skip

ORDER = {
    "condition_before": ("dead", "weak", "other_fault", "normal"),
    "exposure": ("immersion", "splash", "perspiration", "none_known", "unknown"),
    "delay_band": ("under_24h", "24_48h", "2_4_days", "4_7_days", "over_7_days", "unknown"),
    "days_since_dry_band": ("first_seen", "under_30_days", "30_89_days", "90_179_days",
                            "180_364_days", "365_days_or_more"),
    "device_age_band": ("under_1_year", "1_2_years", "3_4_years", "5_years_or_more"),
    "order_band": ("first", "second", "third", "fourth_or_later", "under_15_minutes",
                   "15_59_minutes", "60_179_minutes", "180_minutes_or_more"),
    "season": ("winter", "spring", "summer", "autumn", "wet", "dry"),
    "climate_group": ("tropical", "arid", "temperate", "continental", "polar", "climate not given"),
    "device_style": ("bte", "bte_slim_tube", "ric", "ite", "itc", "cic", "iic", "body_worn",
                     "other", "unknown"),
    "series": ("dead_sounds_again", "weak_back_to_normal", "not_assessed", "median_moisture"),
    "symptom": ("no_sound", "weak_sound", "intermittent", "distorted", "noisy", "feedback",
                "not_charging"),
    "moment": ("before", "after"),
    "graded_by": ("all", "coupler_measurement", "listening_check", "not_recorded"),
    "rescue_definition": ("back_to_normal", "sounds_again"),
    "standing": WORST_FIRST,
}  # fmt: skip

THIN = "\u202f"
NO_NAME = "the group"


def label(value: str | None) -> str:
    """Return the page's word for a stored word; an unknown word is shown with spaces."""
    if value is None:
        return "not recorded"
    return LABELS.get(value, value.replace("_", " "))


def sentence(value: str) -> str:
    """Return the page's word for a stored word, beginning with a capital."""
    text = label(value)
    return text[:1].upper() + text[1:]


def ordered(values: Iterable[str | None], column: str) -> list[str]:
    """Sort stored words in the trade's order for a column, others after them by alphabet."""
    known = ORDER.get(column, ())
    given = {value for value in values if value is not None}
    return [word for word in known if word in given] + sorted(given - set(known))


def position(column: str, name: str) -> pl.Expr:
    """Give an expression that sorts a frame's column `column` in the order known as `name`."""
    words = ORDER[name]
    return pl.col(column).replace_strict(
        list(words), list(range(len(words))), default=len(words), return_dtype=pl.Int64
    )


def count(value: float | None) -> str:
    """Print a count with a thin space between thousands."""
    return "–" if value is None else f"{round(value):,}".replace(",", THIN)


def percent(share: float | None, digits: int = 0) -> str:
    """Print a share of 0-1 as percent; halves round to even as Python does."""
    if share is None or math.isnan(share):
        return "–"
    return f"{number(share * 100, digits)}{THIN}%"


def digits_for(share: float | None, low: float | None = None, high: float | None = None) -> int:
    """Return the decimals a percent needs: one where whole percents would tell nothing apart."""
    known = [value for value in (share, low, high) if value is not None]
    is_fine = any(0 < value < 0.1 or 0.9 < value < 1 for value in known)
    return 1 if is_fine else 0


def signed_in_100(share: float | None) -> str:
    """Print a difference of shares as aids in 100, with its sign."""
    if share is None:
        return "–"
    text = f"{abs(100 * share):.1f}"
    sign = "" if text == "0.0" else "+" if share > 0 else "\u2212"
    return f"{sign}{text}"


def between(low: float | None, high: float | None, digits: int = 0) -> str:
    """Print an interval of shares, "21 to 27 %"."""
    if low is None or high is None:
        return "interval not known"
    return f"{number(low * 100, digits)} to {percent(high, digits)}"


def number(value: float | None, digits: int = 1) -> str:
    """Print a number with fixed decimals, a true minus sign and no negative zero."""
    if value is None or math.isnan(value):
        return "–"
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "\u2212")


def day(value: date | None) -> str:
    """Print a day as 3 March 2026."""
    return "–" if value is None else f"{value.day} {value:%B %Y}"


def month(value: date | None) -> str:
    """Print a month as March 2026."""
    return "–" if value is None else f"{value:%B %Y}"


def plural(n: int, one: str, many: str | None = None) -> str:
    """Print a count and its noun."""
    return f"{count(n)} {one if n == 1 else many or one + 's'}"


def group_name(value: object) -> str:
    """Return the group's name; empty where it has none of its own."""
    return "" if value in (None, NO_NAME) else str(value)


def cut_within(text: str, length: int = 40) -> str:
    """Shorten a name within, so that what tells it apart, after its last comma, stays whole."""
    start, comma, end = text.rpartition(", ")
    if len(text) <= length or not comma or len(end) > length // 2:
        return cut(text, length)
    return f"{cut(start, length - len(end) - 2)}, {end}"


def cut(text: str, length: int = 40) -> str:
    """Shorten a name for a title; the table beside it shows it whole."""
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"
