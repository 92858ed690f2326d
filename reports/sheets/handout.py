"""The handout: a wearer's sheet and the clinician's copy, each one A4."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl
from markupsafe import Markup

from reports import cautions, words
from reports.drawing import static_svg
from reports.sheets import home_care, outcome
from reports.sheets.earlier import drawing
from reports.sheets.sheet import MOST_NAME, Sheets
from schemas import vocabulary
from schemas.meaning import each_of, some_of

CARE = some_of(
    "CARE",
    vocabulary.STANDING,
    {
        "overdue": "The chamber's check was overdue that day: read with care.",
        "retest": "The chamber's newest check was outside its tolerance and not yet repeated: "
        "read with care.",
        "too_few_checks": "The chamber had too few checks to say how right it reads: read with "
        "care.",
    },
)
CELLS = some_of(
    "CELLS",
    vocabulary.POWER_SOURCE,
    {"zinc_air": cautions.CELLS[:1], "lithium_ion": cautions.CELLS[1:]},
)
SHOWN = (3, 10, 25, 50, 75, 90, 97)
DAYS = each_of(
    "DAYS",
    vocabulary.DAYS_SINCE_DRY_BAND.but("first_seen"),
    {
        "under_30_days": "dried less than 30 days before",
        "30_89_days": "dried 30 to 89 days before",
        "90_179_days": "dried 90 to 179 days before",
        "180_364_days": "dried 180 to 364 days before",
        "365_days_or_more": "dried a year or longer before",
    },
)


@dataclass(frozen=True)
class Comparison:
    """Where a reading stands among its peers.

    Fields: cell (device_style, days_since_dry_band, climate_group, season, wearers,
    below_detection, centiles); band ("less", "usual", "more"); peers (wearers behind the shares);
    share (0-1, of the peers under the reading, half of those equal to it) with its limits, or
    where is_tied share_up_to (of the peers tied with it) with its limits.
    """

    cell: Mapping[str, Any]
    band: str
    peers: int
    share: float
    share_up_to: float
    share_low: float
    share_high: float
    is_tied: bool


@dataclass(frozen=True)
class Handout:
    """All that the two sheets say of one session.

    Fields: aids (one mapping an aid: columns of session_aid, with site_name); value_ul (µL per
    aid, the limit where is_below; null where the chamber's reading says nothing of the aid);
    comparison (null where the reading may not be set against peers) and refused (then, why: one
    sentence a reason); earlier (local_date, value_ul, is_below); suggested_months (null: none was
    measured); run; level.
    """

    aids: tuple[Mapping[str, Any], ...]
    value_ul: float | None
    is_below: bool
    comparison: Comparison | None
    refused: tuple[str, ...]
    earlier: pl.DataFrame
    suggested_months: float | None
    run: Mapping[str, Any]
    level: float

    @property
    def aid(self) -> Mapping[str, Any]:
        """The session's first aid: what all of them share, and the one whose reading it is."""
        return self.aids[0]


def handout_text(given: Handout) -> str:
    """Write both sheets as one page that prints on two sides of A4."""
    run, compared_with = given.run, given.comparison
    return Sheets().text(
        "handout.html.j2",
        site=words.cut(str(given.aid["site_name"]), MOST_NAME),
        day=words.day(given.aid["local_date"]),
        is_demo=bool(run.get("is_demo", False)),
        run=f"{run['run_id']}, as of {words.day(run.get('as_of'))}; code {run.get('code_version')}",
        **wearer(given),
        **clinician(given),
        band=compared_with.band if compared_with else "",
        bands=home_care.BAND,
    )


def wearer(given: Handout) -> dict[str, Any]:
    """Collect what the wearer's sheet says; the outcome comes first."""
    aids, is_one = given.aids, len(given.aids) == 1
    power = power_source(given)
    work = [outcome.is_working(aid) for aid in aids]
    leaves = any(outcome.is_leaving(aid) and not outcome.is_working(aid) for aid in aids)
    return {
        "are_dried": "Your hearing aid was dried" if is_one else "Your hearing aids were dried",
        "outcomes": [
            {
                "headline": f"{outcome.name(aid, is_one=is_one)} {outcome.headline(aid)}.",
                "story": outcome.story(aid),
                "next": outcome.next_steps(aid),
                "is_open": not outcome.is_working(aid),
            }
            for aid in aids
        ],
        "compared": compared(given.comparison) if given.comparison else "",
        "not_meant": home_care.NOT_MEANT,
        "has_visit": any(work),
        "next_visit": next_visit(given.suggested_months)
        if all(outcome.kind(aid) == "was_working" for aid in aids)
        else None,
        "sooner": home_care.SOONER,
        "again": outcome.AGAIN
        if any(outcome.kind(aid) == "works_again" for aid in aids)
        else None,
        "care_heading": "Once you have an aid again" if leaves and is_one else "At home",
        "care": [home_care.DAILY[0], home_care.night(power), *home_care.DAILY[1:],
                 f"{home_care.wet(power)} {home_care.WATER}"],
        "safety": home_care.safety(power, is_restored=is_restored(given)),
    }  # fmt: skip


def clinician(given: Handout) -> dict[str, Any]:
    """Collect what the clinician's copy says; the outcome comes first."""
    found = given.comparison
    known = found.cell["centiles"] if found else {}
    return {
        "paths": [
            (outcome.EAR.get(aid["ear"], "Aid") if len(given.aids) > 1 else "", outcome.path(aid))
            for aid in given.aids
        ],
        "result": result(given) if found else "",
        "refused": given.refused,
        "reading": reading(given),
        "facts": facts(given),
        "centiles": centiles(known, found.cell["between"] if found else {}),
        "cell": cell_words(found.cell) if found else "",
        "notes": notes(given),
        "chart": chart(given),
        "chart_words": chart_words(given),
        "earlier": given.earlier.height,
        "is_below": given.is_below,
        "has_limits": given.is_below or bool(given.earlier["is_below"].any()),
        "cautions": [
            *cell_cautions(power_source(given)), cautions.HYGIENE, cautions.LATER,
            *([cautions.VOLUME] if is_restored(given) else []),
        ],
    }  # fmt: skip


def power_source(given: Handout) -> str | None:
    """Return the kind of cell that all the session's aids have; None where they differ."""
    kinds = {aid["power_source"] for aid in given.aids}
    return kinds.pop() if len(kinds) == 1 else None


def is_restored(given: Handout) -> bool:
    """Tell whether sound came back to any of the aids."""
    return any(outcome.is_restored(aid) for aid in given.aids)


def compared(given: Comparison) -> str:
    """Say in plain words what a wearer's reading is compared with."""
    band = DAYS.get(given.cell["days_since_dry_band"] or "")
    when = f", {band}" if band else ""
    style = str(given.cell["device_style"])
    return (
        f"compared with other aids {home_care.KIND.get(style, words.label(style))}, that came for "
        f"a check while they worked{when}"
    )


def next_visit(months: float | None) -> str | None:
    """Word the suggested time to the next visit; None where nothing was measured."""
    if months is None:
        return None
    if months < 1:
        return "Please come back for drying within a month."
    span = "1 month" if months == 1 else f"{months:g} months"
    return f"Please come back for drying in about {span}."


def reading(given: Handout) -> str:
    """Word the reading with its basis; empty where it says nothing of the aid."""
    if given.value_ul is None:
        return ""
    basis = (
        "corrected by the chamber's dose checks"
        if given.aid["moisture_basis"] == "corrected"
        else "as the chamber read it"
    )
    if given.is_below:
        return f"below detection, under {words.number(given.value_ul, 2)} µL; {basis}"
    return f"{words.number(given.value_ul, 2)} µL; {basis}"


def result(given: Handout) -> str:
    """Word the centile, or the tied group, with its interval and n; empty without a comparison."""
    found = given.comparison
    if found is None:
        return ""
    limits = (
        f"{given.level * 100:g} % interval {found.share_low * 100:.0f} to "
        f"{found.share_high * 100:.0f}"
    )
    n = f"{words.count(found.peers)} peers, one visit of each wearer"
    if found.is_tied:
        return (
            f"Tied with the lowest {words.percent(found.share_up_to)} of its peers, who lie below "
            f"detection ({limits} %; {n})."
        )
    return f"{ordinal(found.share)} centile of its peers ({limits}; {n})."


def ordinal(share: float) -> str:
    """Print a share of 0-1 as a whole centile; never under the 1st or over the 99th."""
    number = min(99, max(1, round(share * 100)))
    ending = "th" if 10 < number < 14 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def facts(given: Handout) -> list[tuple[str, str]]:
    """List what is known of the visit; no identifier."""
    aid = given.aid
    since = aid["days_since_last_dry"]
    kinds = {words.label(each["device_style"]): None for each in given.aids}
    wet = {words.label(each["exposure"]): None for each in given.aids}
    chamber = "not named" if aid["dryer_id"] is None else words.cut(str(aid["dryer_id"]), 30)
    standing = aid["standing"]
    return [
        ("Kind of aid", ", ".join(kinds)),
        ("Last dried here", "not known" if since is None else f"{words.count(since)} days before"),
        ("Exposure", ", ".join(wet)),
        ("Chamber", f"{chamber}, {words.label(standing)}" if standing else chamber),
    ]


def centiles(
    known: Mapping[int, float | None], between: Mapping[int, tuple[float, float]]
) -> list[tuple[str, str]]:
    """List a cell's centiles as printed; those below detection, or open between two bounds, say so.

    Args:
        known: µL by centile, None where it has no value.
        between: the bounds in µL of those that limits of detection leave open.
    """
    lowest = min((c for c in SHOWN if known.get(c) is not None), default=100)
    found = []
    for name in SHOWN:
        value = known.get(name)
        if name in between:
            low, high = (words.number(end, 2) for end in between[name])
            found.append((ordinal(name / 100), f"between {low} and {high}"))
        elif value is not None:
            found.append((ordinal(name / 100), words.number(value, 2)))
        elif name in known and 10 <= name < lowest:
            found.append((ordinal(name / 100), "below detection"))
    return found


def cell_words(cell: Mapping[str, Any]) -> str:
    """Name the cell: style, days since drying, climate and season, or what it spans."""
    parts = [
        words.label(cell["device_style"]),
        DAYS.get(cell["days_since_dry_band"] or "", "any time since the last drying"),
        f"{cell['climate_group']} climate" if cell["climate_group"] else "all climates",
        words.label(cell["season"]) if cell["season"] else "all seasons",
    ]
    return ", ".join(parts)


def notes(given: Handout) -> list[str]:
    """Say where this aid differs from the peers it is set against, and what weakens its reading."""
    aid, found = given.aid, []
    if given.comparison is None:
        return []
    if aid["visit_reason"] not in {None, "clean_and_check"}:
        found.append("This aid did not come for clean-and-check. Its peers did.")
    if given.comparison.cell["days_since_dry_band"] is None:
        found.append(
            "Its peers are dried aids of any time since: this aid's last drying is not known here."
            if aid["days_since_last_dry"] is None
            else "Too few aids were dried as long ago as this one: its peers are of any time since."
        )
    if aid["standing"] in CARE:
        found.append(CARE[aid["standing"]])
    if aid["moisture_basis"] == "as_read" and aid["standing"] == "correctable":
        found.append(
            "The reading lies outside the doses checked and could not be corrected: read with care."
        )
    return found


def cell_cautions(power_source: str | None) -> tuple[str, ...]:
    """Return the cautions on cells that fit; both where the kind of cell is not known."""
    return CELLS.get(power_source or "", cautions.CELLS)


def chart(given: Handout) -> Markup | str:
    """Draw the reading and earlier ones; over the peers' range only where it is set against it.

    A lone reading without peers is a number: a picture would add nothing.
    """
    if given.value_ul is None or (given.earlier.is_empty() and not given.comparison):
        return ""
    known = given.comparison.cell["centiles"] if given.comparison else {}
    spec = drawing(
        given.earlier,
        (given.aid["local_date"], given.value_ul, given.is_below),
        {name: known.get(name) for name in (10, 50, 90)},
    )
    return Markup(static_svg(spec))  # noqa: S704  # drawn by vl-convert, which escapes


def chart_words(given: Handout) -> str:
    """Describe the drawing for someone who does not see it."""
    seen = "no earlier reading" if given.earlier.is_empty() else "; ".join(
        f"{words.day(day)} {'below ' if below else ''}{words.number(value, 2)}"
        for day, value, below in given.earlier.head(8).rows()
    )  # fmt: skip
    return f"Readings in µL per aid by day. This one: {reading(given)}. Earlier: {seen}."
