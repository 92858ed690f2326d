"""Water and air: what height above the sea does to a reading, by what the chamber measures."""

import psychrolib

psychrolib.SetUnitSystem(psychrolib.SI)

SEA_LEVEL_PA = 101325.0
# Dew points between which rooms are taken to lie.
DEW_POINTS_C = (5.0, 15.0)


def mixing_ratio_error(elevation_m: float, dew_point_c: float) -> float:
    """Return the relative error of a mixing ratio reckoned as if at sea level.

    The ratio is taken from a dew point with sea-level pressure: (p - e)/(p₀ - e) - 1, p the
    pressure of the standard atmosphere at the height, e the vapour pressure.

    Args:
        elevation_m: -500 to 5000 m.
        dew_point_c: 0 to 50 °C.

    Source: ISO 2533 (standard atmosphere) and ASHRAE saturation pressure, through PsychroLib.
    """
    pressure = psychrolib.GetStandardAtmPressure(elevation_m)
    vapour = psychrolib.GetSatVapPres(dew_point_c)
    return float((pressure - vapour) / (SEA_LEVEL_PA - vapour) - 1)


def gas_density_error(elevation_m: float) -> float:
    """Return the relative error of a mass of gas from its volume at sea-level density: p₀/p - 1.

    Args:
        elevation_m: -500 to 5000 m.

    Source: ISO 2533, through PsychroLib.
    """
    return float(SEA_LEVEL_PA / psychrolib.GetStandardAtmPressure(elevation_m) - 1)


def expected_misreading(elevation_m: float, principle: str) -> tuple[float, float]:
    """Return the range of the relative error that height alone may cause.

    Args:
        elevation_m: -500 to 5000 m.
        principle: "mixing_ratio", "gas_volume", "absolute_humidity", or anything else for a
            principle not known, for which the range holds all of them.

    Returns:
        (low, high); never to be used as a correction, since errors may cancel.
    """
    ratio = [mixing_ratio_error(elevation_m, dew_point) for dew_point in DEW_POINTS_C]
    density = gas_density_error(elevation_m)
    errors = {
        "mixing_ratio": ratio,
        "gas_volume": [density],
        "absolute_humidity": [0.0],
    }.get(principle, [*ratio, density, 0.0])
    return min(errors), max(errors)
