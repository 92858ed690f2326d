"""The invented group: its sites, chambers, climates and the effects planted in them.

Every name, place and number here is made up. Places are near no clinic that we know of; the
normals are drawn so that each site falls in the Köppen-Geiger class named beside it.
"""

from dataclasses import dataclass, replace

import numpy as np

STYLES = ("bte", "bte_slim_tube", "ric", "ite", "itc", "cic", "iic", "body_worn", "bone_conduction")
STYLE_SHARES = (0.19, 0.12, 0.40, 0.09, 0.06, 0.06, 0.035, 0.015, 0.03)
STYLE_MEDIAN_UL = (2.2, 1.8, 1.5, 1.3, 1.1, 0.9, 0.8, 2.6, 1.6)
STYLE_GAIN_DB = (48.0, 42.0, 40.0, 38.0, 34.0, 30.0, 28.0, 58.0, 36.0)
STYLE_OSPL90_DB_SPL = (122.0, 116.0, 112.0, 111.0, 108.0, 105.0, 103.0, 130.0, 110.0)
MODELS_PER_STYLE = 2

CONDITIONS = ("dead", "weak", "other_fault", "normal")
DEAD, WEAK, OTHER_FAULT, NORMAL = range(4)

# Shares of working aids that are dead or weak afterwards, dried or only cleaned.
NORMAL_DEAD_AFTER = 0.002
NORMAL_WEAK_AFTER = 0.008


@dataclass(frozen=True)
class Climate:
    """Monthly normals of one place: temperatures as a cosine, rain month by month."""

    koppen: str
    mean_temp_c: float
    half_range_c: float
    warmest_month: int
    precipitation_mm: tuple[int, ...]
    dew_point_spread_c: float
    moisture_factor: float

    def temperatures_c(self) -> np.ndarray:
        """Return the twelve monthly means, °C, January first."""
        month = np.arange(1, 13)
        swing = np.cos(2 * np.pi * (month - self.warmest_month) / 12)
        return np.round(self.mean_temp_c + self.half_range_c * swing, 1)

    def dampness(self) -> np.ndarray:
        """Return twelve monthly factors of moisture gain, about 1 on average."""
        dew = self.temperatures_c() - self.dew_point_spread_c
        factor = np.exp(0.025 * (dew - dew.mean()))
        return np.asarray(factor / factor.mean())


OCEANIC = (70, 55, 55, 50, 55, 50, 55, 60, 65, 80, 80, 78)
CLIMATES = {
    "Cfb": Climate("Cfb", 10.6, 6.4, 7, OCEANIC, 3.0, 1.0),
    "Cfb south": Climate("Cfb", 13.4, 4.9, 1, tuple(reversed(OCEANIC)), 3.2, 1.05),
    "Cfa": Climate(
        "Cfa", 15.8, 10.4, 7, (110, 108, 120, 100, 105, 98, 118, 95, 90, 75, 100, 112), 4.0, 1.2
    ),
    "Cfa south": Climate(
        "Cfa", 20.2, 5.3, 1, (150, 158, 130, 85, 75, 62, 45, 42, 40, 80, 105, 132), 5.0, 1.3
    ),
    "Csa": Climate("Csa", 17.4, 6.4, 8, (82, 70, 55, 48, 28, 8, 2, 3, 22, 68, 95, 104), 5.5, 1.0),
    "Dfb": Climate(
        "Dfb", 6.6, 15.2, 7, (22, 20, 38, 58, 82, 105, 92, 88, 72, 58, 36, 24), 4.5, 0.85
    ),
    "Dfb mild": Climate(
        "Dfb", 7.0, 10.8, 7, (44, 36, 38, 40, 52, 70, 78, 76, 66, 66, 58, 50), 3.0, 0.9
    ),
    "Dfa": Climate(
        "Dfa", 9.4, 14.2, 7, (40, 42, 62, 88, 104, 106, 98, 96, 82, 72, 66, 52), 4.2, 0.9
    ),
    "BWh": Climate("BWh", 27.2, 8.6, 7, (12, 16, 14, 7, 2, 0, 0, 0, 0, 1, 4, 13), 14.0, 0.65),
    "BWh south": Climate(
        "BWh", 20.6, 8.0, 1, (24, 34, 36, 18, 9, 5, 2, 3, 4, 9, 14, 18), 13.0, 0.55
    ),
    "BSk": Climate(
        "BSk", 10.4, 12.0, 7, (12, 12, 30, 46, 58, 48, 52, 44, 28, 24, 20, 12), 11.0, 0.6
    ),
    "Af": Climate(
        "Af", 26.8, 0.7, 5, (210, 165, 195, 220, 190, 150, 155, 170, 180, 215, 265, 270), 3.2, 1.9
    ),
    "Aw": Climate(
        "Aw", 27.4, 2.2, 12, (420, 375, 315, 100, 22, 2, 1, 5, 16, 72, 142, 260), 6.0, 1.6
    ),
}


@dataclass(frozen=True)
class Chamber:
    """One drying chamber and its faults, if any: reading = offset + slope · true.

    `drift_per_year` is the share by which the slope moves in a year; each day of `serviced_on`
    starts it anew. `pressure_excess_kpa` is what a worn pump leaves in the chamber.
    `newest_day_error_share` is added to every reading of the last day of checks alone.
    """

    number: int
    slope: float = 1.0
    offset_ul: float = 0.0
    error_share: float = 0.03
    detection_limit_ul: float = 0.3
    checked_until: str | None = "2026-06-30"
    drift_per_year: float = 0.0
    serviced_on: tuple[str, ...] = ()
    pressure_excess_kpa: float = 0.0
    newest_day_error_share: float = 0.0

    def slope_on(self, days: np.ndarray) -> np.ndarray:
        """Return the slope on each day; before the first service it is the chamber's own."""
        days = days.astype("datetime64[D]")
        begins = np.array([np.datetime64("1970-01-01"), *map(np.datetime64, self.serviced_on)])
        last = begins[np.searchsorted(begins, days, side="right") - 1]
        years = np.where(last > begins[0], (days - last).astype(int) / 365.25, 0.0)
        return np.asarray(self.slope * (1 + self.drift_per_year * years))


@dataclass(frozen=True)
class Site:
    """One invented clinic.

    `rescue_log_odds` is the planted difference from the group in the odds of any rescue;
    `closed` the first and last day of a span without sessions; `share_faulty` the share of
    rows exported with a fault; `share_dead_after_drying` that of working aids that are dead
    after a cycle. `cells_left_in`, `lithium_forbidden` and `lithium_unlisted` are numbers of
    rows against the rules for cells.
    """

    number: int
    name: str
    climate: str
    latitude: float
    longitude: float
    elevation_m: int
    time_zone: str
    aids_per_day: float
    chambers: tuple[Chamber, ...] = (Chamber(1),)
    rescue_log_odds: float = 0.0
    has_hard_mix: bool = False
    copies_forward: bool = False
    has_comparison: bool = False
    has_normals: bool = True
    test_box: bool = False
    counts_visits: bool = False
    records: str = "usual"
    share_not_assessed: float = 0.03
    share_salt: float = 0.15
    share_paired_loads: float = 0.7
    is_fixed_time: bool = False
    is_compressed: bool = True
    closed: tuple[str, str] | None = None
    share_faulty: float = 0.0
    share_dead_after_drying: float = NORMAL_DEAD_AFTER
    cells_left_in: int = 0
    lithium_forbidden: int = 0
    lithium_unlisted: int = 0

    @property
    def site_id(self) -> str:
        """Return the identifier, `site-01` upward."""
        return f"site-{self.number:02d}"

    def dryer_id(self, chamber: Chamber) -> str:
        """Return the chamber's identifier, `D02-1` for the first chamber of site-02."""
        return f"D{self.number:02d}-{chamber.number}"


SITES = (
    Site(1, "Alder Quay", "Cfb", 51.3, -1.9, 62, "Europe/London", 13.0,
         (Chamber(1, 1.02), Chamber(2, 0.98)), has_comparison=True, test_box=True,
         counts_visits=True),
    Site(2, "Brightmere", "Cfa", 35.2, -83.6, 214, "America/New_York", 11.0,
         (Chamber(1, slope=0.75, error_share=0.02), Chamber(2, 1.01)), has_comparison=True,
         test_box=True, counts_visits=True),
    Site(3, "Cedar Hollow", "Dfb", 46.1, -95.4, 398, "America/Chicago", 12.0,
         (Chamber(1, 1.0), Chamber(2, 1.0, newest_day_error_share=-0.2)), rescue_log_odds=1.1,
         test_box=True, counts_visits=True),
    Site(4, "Dunefort", "BWh", 25.1, 54.9, 18, "Asia/Dubai", 9.0,
         (Chamber(1, 0.97, detection_limit_ul=0.5),), records="no_cleaning_grade",
        share_faulty=0.006),
    Site(5, "Elm Crossing", "Dfa", 40.8, -88.9, 233, "America/Chicago", 11.0,
         (Chamber(1, 1.0), Chamber(2, 1.0, pressure_excess_kpa=4.0)), has_comparison=True,
         test_box=True, counts_visits=True, lithium_forbidden=2),
    Site(6, "Fernhaven", "Af", 2.6, 103.1, 27, "Asia/Kuala_Lumpur", 12.0,
         (Chamber(1, 1.02), Chamber(2, 0.99, error_share=0.22)), counts_visits=True,
         records="delay_in_words"),
    Site(7, "Goldwater Rise", "BSk", 39.4, -104.2, 1605, "America/Denver", 9.0,
         (Chamber(1, 1.0, detection_limit_ul=0.2),), closed=("2025-08-04", "2025-08-24")),
    Site(8, "Heronsby", "Cfa south", -27.3, 152.1, 96, "Australia/Brisbane", 13.0,
         (Chamber(1, 0.99), Chamber(2, 1.01)), rescue_log_odds=-1.1, test_box=True,
         counts_visits=True),
    Site(9, "Inlet Bay", "Aw", -12.9, 131.4, 31, "Australia/Darwin", 8.0,
         (Chamber(1, 1.0, checked_until=None),), share_salt=0.35, share_not_assessed=0.14,
         cells_left_in=4),
    Site(10, "Juniper Flats", "BWh south", -28.2, 21.6, 812, "Africa/Johannesburg", 9.0,
         (Chamber(1, 1.03, checked_until="2026-02-12", detection_limit_ul=0.5),),
         records="delay_in_words", is_fixed_time=True,
        share_faulty=0.01),
    Site(11, "Kestrel Point", "Csa", 37.3, -7.9, 44, "Europe/Lisbon", 7.0,
         (Chamber(1, 1.0),), copies_forward=True, test_box=True),
    Site(12, "Larchwood", "Dfb mild", 56.4, 24.6, 37, "Europe/Riga", 11.0,
         (Chamber(1, 0.98),
          Chamber(2, 1.0, error_share=0.015, drift_per_year=-0.25,
                  serviced_on=("2024-10-07", "2025-10-06"))),
         has_comparison=True, test_box=True, counts_visits=True),
    Site(13, "Mallow Green", "Cfb south", -38.2, 175.9, 58, "Pacific/Auckland", 11.0,
         (Chamber(1, 1.01),), has_hard_mix=True, counts_visits=True, share_salt=0.45,
         cells_left_in=2, lithium_unlisted=3),
    Site(14, "Northgate Fen", "Cfb", 52.6, 5.8, 3, "Europe/Amsterdam", 6.0,
         (Chamber(1, 1.0),), has_normals=False, records="minimum", share_paired_loads=0.0,
         is_compressed=False),
    Site(15, "Orchard Weir", "Cfb", 50.7, 4.1, 41, "Europe/Brussels", 7.0,
         (Chamber(1, 1.01),), test_box=True, share_dead_after_drying=0.03),
)  # fmt: skip

SEED_OF_TRUTH = 1  # first of the seeds over which expected rates are averaged

# Planted effects, on the log-odds scale where nothing else is said.
WEARER_VARIANCE = 2.0
AID_VARIANCE = 0.6
RESCUE_BASE = {"dead": 0.9, "weak": 0.35, "other_fault": -0.6}
EFFECT_OF_DOUBLED_DELAY = -0.25
EFFECT_OF_SALT_WATER = -0.6
EFFECT_OF_AGE_PER_YEAR = -0.06
EFFECT_OF_REPEAT_CYCLE = -0.9
SHARE_FIXED_BY_CLEANING = {"dead": 0.35, "weak": 0.30, "other_fault": 0.15}
NORMAL_TRULY_BETTER_WHEN_DRIED = 0.03
NORMAL_TRULY_WORSE = 0.005
TRUE_CHANGE_DB = 8.0
MOISTURE_NOISE_LOG_SD = 0.55
MOISTURE_WEARER_LOG_SD = 0.35
MOISTURE_DAYS_POWER = 0.30
HOME_DRYERS = ("none", "desiccant", "electric")
HOME_DRYER_SHARES = (0.6, 0.3, 0.1)
HOME_DRYER_MOISTURE_FACTOR = (1.0, 0.8, 0.65)
WITHIN_SD = {"hfa_gain": 1.1, "hfa_ospl90": 0.8, "ein": 1.0, "thd_log": 0.22}
BOX_WITHIN_SD_FACTOR = {1: 1.0, 2: 0.9, 3: 1.0, 5: 1.1, 8: 1.2, 11: 1.0, 12: 0.95, 15: 1.0}
BOX_WEEK_DRIFT_SD_DB = 0.6
BOX_WEEK_CHANGE_SD_DB = 0.25
REPEATS_PER_BOX = 70


def group_of(count: int, share_faulty: float | None = None) -> tuple[Site, ...]:
    """Return `count` sites: the first fifteen as declared, then average copies of them.

    `share_faulty`, where given, is the share of faulty rows at every site.
    """

    sites = list(SITES[:count])
    for number in range(len(SITES) + 1, count + 1):
        model = SITES[(number - 1) % 13]
        sites.append(
            replace(
                model,
                number=number,
                name=f"{model.name} {number}",
                rescue_log_odds=0.0,
                has_hard_mix=False,
                copies_forward=False,
                has_normals=True,
                share_faulty=0.0,
                share_dead_after_drying=NORMAL_DEAD_AFTER,
                cells_left_in=0,
                lithium_forbidden=0,
                lithium_unlisted=0,
                closed=None,
            )
        )
    if share_faulty is not None:
        sites = [replace(site, share_faulty=share_faulty) for site in sites]
    return tuple(sites)
