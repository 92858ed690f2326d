"""Units a site may write its values in, and their conversion to the contract's units."""

import math

import polars as pl

# Contract unit: {written unit: (add first, multiply by, divide by)}.
LINEAR: dict[str, dict[str, tuple[float, float, float]]] = {
    "°C": {"degC": (0, 1, 1), "degF": (-32, 5, 9), "K": (-273.15, 1, 1)},
    # Conventional millimetre and inch of mercury (ISO 80000-4); psi from the avoirdupois pound.
    "kPa": {
        "kPa": (0, 1, 1), "Pa": (0, 1, 1000), "hPa": (0, 1, 10), "mbar": (0, 1, 10),
        "bar": (0, 100, 1), "mmHg": (0, 0.133322387415, 1), "Torr": (0, 101.325, 760),
        "inHg": (0, 3.386389, 1), "psi": (0, 6.894757293168, 1),
    },
    # A milligram of water is a microlitre within 0.5 % from 4 to 30 degrees Celsius.
    "µL": {
        "µL": (0, 1, 1), "uL": (0, 1, 1), "mL": (0, 1000, 1), "L": (0, 1_000_000, 1),
        "mg": (0, 1, 1), "g": (0, 1000, 1),
    },
    "minutes": {"min": (0, 1, 1), "s": (0, 1, 60), "h": (0, 60, 1)},
    "hours": {"h": (0, 1, 1), "min": (0, 1, 60), "days": (0, 24, 1)},
    "months": {"months": (0, 1, 1), "years": (0, 12, 1)},
    "days": {"days": (0, 1, 1), "weeks": (0, 7, 1)},
    "%": {"%": (0, 1, 1), "share": (0, 100, 1)},
    "m": {"m": (0, 1, 1), "ft": (0, 0.3048, 1)},
}  # fmt: skip
# Written form: (pattern, minutes for each of its groups).
CLOCK: dict[str, tuple[str, tuple[float, ...]]] = {
    "h:mm": (r"^(\d{1,4}):([0-5]\d)$", (60, 1)),
    "h:mm:ss": (r"^(\d{1,4}):([0-5]\d):([0-5]\d)$", (60, 1, 1 / 60)),
    "mm:ss": (r"^(\d{1,4}):([0-5]\d)$", (1, 1 / 60)),
}
REFERENCES = ("absolute", "gauge", "vacuum")
PER_CLOCK = {"minutes": 1.0, "hours": 60.0}


def units_for(unit: str | None, column: str) -> list[str]:
    """Return every unit a column may be written in."""
    known = list(LINEAR.get(plain_unit(unit), {}))
    if column.endswith("_kpa_abs"):
        return [f"{name} {reference}" for name in known for reference in REFERENCES]
    return known + (list(CLOCK) if unit in PER_CLOCK else [])


def plain_unit(unit: str | None) -> str:
    """Return the unit by which conversions are listed."""
    return "%" if (unit or "").startswith("%") else unit or ""


def needs_barometer(written: str) -> bool:
    """Tell whether a unit counts from the air's pressure."""
    return written.endswith((" gauge", " vacuum"))


def converted(
    text: pl.Expr, number: pl.Expr, unit: str | None, written: str, barometer_kpa: pl.Expr
) -> pl.Expr:
    """Return values in the contract's unit, null where the text is not of the written form.

    Args:
        text: the cells, for clock forms.
        number: the cells as numbers.
        unit: the contract's unit.
        written: the unit the cells are in.
        barometer_kpa: air pressure, for gauge and vacuum readings.
    """
    if written in CLOCK:
        pattern, weights = CLOCK[written]
        minutes = sum(
            (
                text.str.extract(pattern, at).cast(pl.Float64, strict=False) * weight
                for at, weight in enumerate(weights, start=1)
            ),
            start=pl.lit(0.0),
        )
        return minutes / PER_CLOCK[unit or "minutes"]
    name, _, reference = written.partition(" ")
    add, times, over = LINEAR[plain_unit(unit)][name]
    value = (number + add) * times / over
    if reference == "gauge":
        return barometer_kpa + value
    if reference == "vacuum":
        return barometer_kpa - value
    return value


def as_text(value: pl.Expr, resolution: float | None) -> pl.Expr:
    """Write converted values at the column's stored resolution."""
    places = max(0, math.ceil(-math.log10(resolution))) if resolution else 6
    return value.round(places).cast(pl.String)


def units_that_fit(
    unit: str | None,
    column: str,
    values: pl.Series,
    between: tuple[float, float],
    declared: str | None,
) -> tuple[str, ...]:
    """Return the other units in which a column's median would lie where it should.

    Args:
        unit: the contract's unit.
        column: the contract's column.
        values: its values as they were converted, in the contract's unit.
        between: least and largest median, in the contract's unit.
        declared: the unit that the mapping names now; None for the contract's.

    Returns:
        Units that are a matter of one factor; none where the declared one is no such unit.
    """
    known = LINEAR.get(plain_unit(unit), {})
    suffix = " absolute" if column.endswith("_kpa_abs") else ""
    now = (declared or next(iter(known), "")).removesuffix(suffix)
    add, times, over = known.get(now, (math.nan, 1.0, 1.0))
    written = float(values.median() or 0.0) * over / times - add  # type: ignore[arg-type]
    low, high = between
    return tuple(
        f"{name}{suffix}" for name, (plus, by, through) in known.items()
        if (by / through, plus) != (times / over, add)
        and low <= (written + plus) * by / through <= high
    )  # fmt: skip
