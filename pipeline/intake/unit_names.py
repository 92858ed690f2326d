"""Units as clinics spell them, told from the spelling alone and only where one unit is meant."""

import re

from pipeline.intake.units import CLOCK, LINEAR, plain_unit, units_for

# Spelling in lower case, without spaces and full stops: the unit's name here, by contract unit.
SPELLED: dict[str, dict[str, str]] = {
    "°C": {
        **dict.fromkeys(("°c", "c", "degc", "celsius", "gradc", "gradcelsius", "ºc"), "degC"),
        **dict.fromkeys(("°f", "f", "degf", "fahrenheit", "ºf"), "degF"),
        **dict.fromkeys(("k", "kelvin"), "K"),
    },
    "kPa": {
        "kpa": "kPa", "pa": "Pa", "hpa": "hPa", "bar": "bar", "psi": "psi", "torr": "Torr",
        **dict.fromkeys(("mbar", "millibar", "mb"), "mbar"),
        **dict.fromkeys(("mmhg", "mmqs"), "mmHg"),
        **dict.fromkeys(("inhg", '"hg', "inchhg", "inchesofmercury", "inchofmercury"), "inHg"),
    },
    "µL": {
        **dict.fromkeys(("µl", "ul", "mcl", "microl", "microliter", "microlitre", "mikroliter",
                         "microlitres", "microliters"), "µL"),
        **dict.fromkeys(("ml", "milliliter", "millilitre", "millilitres", "milliliters"), "mL"),
        **dict.fromkeys(("l", "liter", "litre"), "L"),
        **dict.fromkeys(("mg", "milligram", "milligramm", "milligrams"), "mg"),
        **dict.fromkeys(("g", "gram", "gramm", "grams"), "g"),
    },
    "minutes": {
        **dict.fromkeys(("min", "mins", "minute", "minutes", "minuten", "minuti", "minutos",
                         "minuut", "minuter"), "min"),
        **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "sekunden", "secondes",
                         "segundos", "secondi"), "s"),
        **dict.fromkeys(("h", "hr", "hrs", "hour", "hours", "std", "stunde", "stunden", "heures",
                         "horas", "ore", "uur"), "h"),
    },
    "months": {
        **dict.fromkeys(("month", "months", "mon", "monat", "monate", "mois", "meses"), "months"),
        **dict.fromkeys(("year", "years", "yr", "yrs", "jahr", "jahre", "ans", "anni"), "years"),
    },
    "days": {
        **dict.fromkeys(("d", "day", "days", "tag", "tage", "jours", "giorni"), "days"),
        **dict.fromkeys(("week", "weeks", "wk", "woche", "wochen", "semaines"), "weeks"),
    },
    "%": {
        **dict.fromkeys(("%", "pct", "percent", "prozent", "pourcent"), "%"),
        **dict.fromkeys(("share", "fraction", "anteil"), "share"),
    },
    "m": {
        **dict.fromkeys(("m", "metre", "meter", "metres", "meters"), "m"),
        **dict.fromkeys(("ft", "feet", "foot", "fuss"), "ft"),
    },
}  # fmt: skip
SPELLED["hours"] = {
    word: unit for word, unit in SPELLED["minutes"].items() if unit in LINEAR["hours"]
} | {word: "days" for word, unit in SPELLED["days"].items() if unit == "days"}
# How a pressure says what it counts from. "rel" and "g" count upwards from the air's pressure.
REFERENCE = {
    **dict.fromkeys(("absolute", "abs", "a", "absolut", "absolu"), "absolute"),
    **dict.fromkeys(("gauge", "g", "rel", "relative", "relativ"), "gauge"),
    **dict.fromkeys(("vacuum", "vac", "vakuum", "vide", "unterdruck"), "vacuum"),
}  # fmt: skip
MARKS = str.maketrans({"μ": "µ", " ": "", "\u00a0": "", ".": "", "[": "", "]": ""})
PRESSURE = re.compile(r"^(.*?)(?:[\s(_-]*)(absolute|absolut|absolu|abs|gauge|relative|relativ|rel|"
                      r"vacuum|vakuum|vac|vide|unterdruck|a|g)\)?$")  # fmt: skip


def unit_meant(written: str, unit: str | None, column: str) -> str | None:
    """Return the unit of `units_for` that a spelling means, or None where it could be another.

    Args:
        written: the unit as a clinic writes it, such as "µl", "mm Hg abs" or "inHg vacuum".
        unit: the contract's unit of the column.
        column: the contract's column.
    """
    allowed = units_for(unit, column)
    if written in allowed:
        return written
    text = written.strip().lower()
    if text in CLOCK:
        return text if text in allowed else None
    own = SPELLED.get(plain_unit(unit), {})
    if not column.endswith("_kpa_abs"):
        return own.get(text.translate(MARKS))
    found = PRESSURE.match(text)
    if found is None:
        return None
    name, reference = own.get(found[1].translate(MARKS)), REFERENCE[found[2]]
    return f"{name} {reference}" if name else None


def spellings(written: str, unit: str | None, column: str) -> list[str]:
    """Return every spelling, in lower case, that means the same unit as this one."""
    if written in CLOCK or column.endswith("_kpa_abs"):
        name = written.partition(" ")[0]
        return [word for word, meant in SPELLED["kPa"].items() if meant == name]
    own = SPELLED.get(plain_unit(unit), {})
    return [word for word, meant in own.items() if meant == written]


def pressure_alone(written: str) -> str | None:
    """Return the unit of a pressure that does not say what it counts from, if it is one."""
    return SPELLED["kPa"].get(written.strip().lower().translate(MARKS))
