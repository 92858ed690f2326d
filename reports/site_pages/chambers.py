"""The chambers of a site: standing, what to do, mean error, reading against dose, use."""

from dataclasses import dataclass
from typing import Any

import polars as pl
from markupsafe import Markup

from reports import dose_panels, tiny, words
from reports.dose_panels import DosePanel
from reports.figure import Frames, HtmlPanel
from reports.figures import chamber_rows, chamber_use
from reports.figures.chamber_rows import SOUND
from reports.figures.dose_readings import readings
from reports.html_panels import dose_panel

ERROR = tiny.TinyScale(-3.0, 3.0, reference=0.0, band=(-1.0, 1.0))


@dataclass(frozen=True)
class Chamber:
    """One chamber, as its site's page says it; `is_fault` where something is to be done.

    `beside` says what stands beside its standing: a pump, or aids that come to harm.
    """

    name: str
    standing: str
    beside: str
    is_fault: bool
    to_do: str
    drawing: Markup
    error: str
    checked: str
    use: str


@dataclass(frozen=True)
class Chambers:
    """A site's chambers, and the picture of their readings where there are dose checks."""

    told: list[Chamber]
    picture: HtmlPanel | None


def by_site(frames: Frames) -> dict[str, Chambers]:
    """Return the chambers of every site."""
    frame = chamber_rows.chambers(frames)
    if frame.is_empty():
        return {}
    use = chamber_use.per_chamber(frames)
    used = {} if use.is_empty() else {
        (row["site_id"], row["dryer_id"]): row for row in use.to_dicts()
    }  # fmt: skip
    doses: dict[tuple[str, str], list[dict[str, Any]]] = {}
    read = readings(frames)
    for row in read.to_dicts() if not read.is_empty() else []:
        doses.setdefault((row["site_id"], row["dryer_id"]), []).append(row)
    found = {}
    for (site,), own in frame.sort("site_id", "dryer_id").group_by("site_id", maintain_order=True):
        rows = own.to_dicts()
        found[str(site)] = Chambers(
            [_chamber(row, used.get((row["site_id"], row["dryer_id"]))) for row in rows],
            _picture(rows, doses),
        )
    return found


def _chamber(row: dict[str, Any], use: dict[str, Any] | None) -> Chamber:
    mean = row["mean_error_tolerances"]
    low, high = row["mean_error_low_tolerances"], row["mean_error_high_tolerances"]
    is_off = row["removed_on"] is None and row["standing"] not in SOUND
    drawing, error = Markup(""), "mean error not known"
    if mean is not None:
        shape = "square" if is_off else "circle"
        drawing = Markup(  # noqa: S704  # numbers alone
            tiny.interval(ERROR, mean, low, high, shape=shape,
                          colour="orange" if is_off else "blue")
        )  # fmt: skip
        error = (
            f"mean error {words.number(mean)} tolerances ({words.number(low)} to "
            f"{words.number(high)})"
        )
    checked = row["last_checked_on"]
    usual = None if use is None else use["usual_per_open_day"]
    idle = None if use is None else use["idle_weeks"]
    return Chamber(
        row["dryer_id"], row["standing_words"], row["beside_words"],
        is_off or bool(row["beside_words"]), row["to_do"], drawing, error,
        "never checked" if checked is None else f"last checked {words.day(checked)}",
        ("use not known" if usual is None else f"{words.number(usual)} runs per open day")
        + (f", {words.plural(idle, 'week')} idle while the clinic worked" if idle else ""),
    )  # fmt: skip


def _picture(
    rows: list[dict[str, Any]], doses: dict[tuple[str, str], list[dict[str, Any]]]
) -> HtmlPanel | None:
    used = [row for row in rows if row["removed_on"] is None]
    own = {row["dryer_id"]: doses.get((row["site_id"], row["dryer_id"]), []) for row in used}
    reach = dose_panels.reach_of([point for points in own.values() for point in points])
    panels = [
        DosePanel(
            row["dryer_id"], row["standing_words"], dose_panels.points_of(own[row["dryer_id"]]),
            reach, is_fault=row["standing"] not in SOUND,
        )
        for row in used if own[row["dryer_id"]]
    ]  # fmt: skip
    return dose_panel(panels) if panels else None


def faults(chambers: Chambers | None) -> list[str]:
    """Name the chambers that something is to be done about, and their standing."""
    return [
        f"{one.name} {one.standing}" + (f", {one.beside}" if one.beside else "")
        for one in (chambers.told if chambers else []) if one.is_fault
    ]  # fmt: skip


def names(frames: Frames) -> pl.DataFrame:
    """Return every chamber's site and id."""
    frame = chamber_rows.chambers(frames)
    return frame if frame.is_empty() else frame.select("site_id", "dryer_id")
