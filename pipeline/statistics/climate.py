"""Köppen-Geiger class of a place from its monthly normals."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.statistics.intervals import Floats

APRIL_TO_SEPTEMBER = np.arange(3, 9)
OCTOBER_TO_MARCH = np.array([9, 10, 11, 0, 1, 2])

Months = NDArray[np.int64]


def koeppen_geiger(temp_c: ArrayLike, rain_mm: ArrayLike, latitude: float) -> str:
    """Return the class, such as "Cfb", of twelve monthly means.

    Choices where published rules differ: the arid class is tested before the polar one; C and D
    part at 0 °C; the summer half-year is the warmer one, and only if both are equally warm that
    of the hemisphere; where both a dry summer and a dry winter hold, the drier half-year names it.

    Args:
        temp_c: mean temperature, January to December, °C.
        rain_mm: mean precipitation, January to December, mm, 0 or more. Thirty-year normals: two
            years of a dry spell give another class.
        latitude: degrees, north positive, -90 to 90.

    Raises:
        ValueError: unless there are twelve finite values of each; also on rain that is negative
            or all zero, since rain that is missing is often written as 0.

    Source: Beck et al. 2018, Scientific Data 5:180214, table 2.
    """
    temps, rain = np.asarray(temp_c, dtype=float), np.asarray(rain_mm, dtype=float)
    if temps.shape != (12,) or rain.shape != (12,):
        raise ValueError("a climate class needs twelve months of temperature and of rain")
    if not (np.isfinite(temps).all() and np.isfinite(rain).all()):
        raise ValueError("a climate class needs every month of temperature and of rain")
    if (rain < 0).any() or rain.sum() == 0:
        raise ValueError("rain is negative or zero all year, so it was not measured")
    summer, winter = _half_years(temps, latitude)
    arid = _arid(temps, rain, summer, winter)
    if arid:
        return arid
    if temps.min() >= 18:
        return _tropical(rain)
    if temps.max() <= 10:
        return "ET" if temps.max() > 0 else "EF"
    group = "C" if temps.min() > 0 else "D"
    return group + _dry_season(rain, summer, winter) + _warmth(temps, group)


def _half_years(temps: Floats, latitude: float) -> tuple[Months, Months]:
    northern = temps[APRIL_TO_SEPTEMBER].mean() - temps[OCTOBER_TO_MARCH].mean()
    is_april_to_september = northern > 0 or (northern == 0 and latitude >= 0)
    if is_april_to_september:
        return APRIL_TO_SEPTEMBER, OCTOBER_TO_MARCH
    return OCTOBER_TO_MARCH, APRIL_TO_SEPTEMBER


def _arid(temps: Floats, rain: Floats, summer: Months, winter: Months) -> str:
    year, mean = rain.sum(), temps.mean()
    threshold = 2 * mean + 14
    if rain[winter].sum() > 0.7 * year:
        threshold = 2 * mean
    elif rain[summer].sum() > 0.7 * year:
        threshold = 2 * mean + 28
    if year >= 10 * threshold:
        return ""
    return "B" + ("W" if year < 5 * threshold else "S") + ("h" if mean >= 18 else "k")


def _tropical(rain: Floats) -> str:
    if rain.min() >= 60:
        return "Af"
    return "Am" if rain.min() >= 100 - rain.sum() / 25 else "Aw"


def _dry_season(rain: Floats, summer: Months, winter: Months) -> str:
    in_summer, in_winter = rain[summer], rain[winter]
    is_dry_summer = in_summer.min() < 40 and in_summer.min() < in_winter.max() / 3
    is_dry_winter = in_winter.min() < in_summer.max() / 10
    if is_dry_summer and is_dry_winter:
        return "w" if in_summer.sum() > in_winter.sum() else "s"
    if is_dry_summer:
        return "s"
    return "w" if is_dry_winter else "f"


def _warmth(temps: Floats, group: str) -> str:
    if temps.max() >= 22:
        return "a"
    if (temps > 10).sum() >= 4:
        return "b"
    return "d" if group == "D" and temps.min() < -38 else "c"
