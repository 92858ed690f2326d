"""One session for its sheets: what became of the aid, and its reading against its peers."""

from pathlib import Path
from typing import Any

import polars as pl

from pipeline.errors import HandoutError
from pipeline.settings import Settings
from pipeline.statistics.peers import place
from pipeline.warehouse import peers
from reports import words
from reports.sheets.handout import Comparison, Handout
from schemas import vocabulary
from schemas.meaning import some_of

NO_SHEET = "No sheet was written."
STANDING = some_of(
    "STANDING",
    vocabulary.STANDING,
    {
        "out_of_tolerance": "The chamber was out of tolerance that day.",
        "scattering": "The chamber's readings scattered beyond its tolerance that day.",
        "drifting": "The chamber's readings were drifting that day.",
        "misreading": "The chamber misread that day and could not be corrected.",
        "never_checked": "The chamber had not yet been checked by that day.",
    },
)
NOT_ALONE = "The aid was not alone in the chamber: the reading is that of the whole load."
FEW = "Too few peers: no cell of this kind of aid has enough wearers."
# The outer centiles are what tells usual from less and more.
LOW, HIGH = 10, 90


def gather(warehouse: Path, settings: Settings, asked: peers.Asked) -> Handout:
    """Collect all that the two sheets say of one session.

    The outcome is always told. The reading is set against peers only where `refusals` finds no
    reason against it and a cell has enough wearers.

    Args:
        warehouse: the published warehouse.
        settings: the group's settings.
        asked: the session.

    Raises:
        HandoutError: where no such session counts, its aids were not dried, are not known to be of
            one wearer, or are of a kind that the sheets do not cover.
    """
    aids = _chosen(peers.read_session(warehouse, asked))
    aid = aids[0]
    is_below = bool(aid["is_below_detection"])
    value = aid["moisture_limit_per_aid_ul" if is_below else "moisture_per_aid_ul"]
    refused = refusals(aids)
    has_reading = value is not None and is_alone(aids) and is_readable(aid)
    compared = None
    if not refused:
        compared = _compared(warehouse, settings, aid, value, is_below=is_below)
        refused = [] if compared else [FEW]
    recheck = peers.read_recheck(warehouse, aid["device_style"])
    return Handout(
        aids=tuple(aids),
        value_ul=value if has_reading else None,
        is_below=has_reading and is_below,
        comparison=compared,
        refused=tuple(refused),
        earlier=peers.read_earlier(warehouse, asked.site_id, aid["device_key"], aid["local_date"]),
        suggested_months=recheck["suggested_months"][0] if recheck.height else None,
        run=peers.read_run(warehouse),
        level=settings.confidence_level,
    )


def refusals(aids: list[dict[str, Any]]) -> list[str]:
    """List why a session's reading may not be set against peers; empty where it may.

    Peers worked before drying, had no known exposure and were alone in a chamber that reads right.

    Args:
        aids: rows of handout_aid, one an aid.
    """
    aid, found = aids[0], []
    if not is_alone(aids):
        found.append(NOT_ALONE)
    if any(each["condition_before_drying"] != "normal" for each in aids):
        found.append("It did not work before drying. Its peers did.")
    if any(each["condition_after"] is None for each in aids):
        found.append("It was not assessed after drying.")
    elif any(each["condition_after"] != "normal" for each in aids):
        found.append("It does not work after drying.")
    found.extend(_wetting(aids))
    if aid["standing"] is None:
        found.append("The session names no chamber with a standing.")
    elif not is_readable(aid):
        found.append(STANDING[aid["standing"]])
    name = "moisture_limit_per_aid_ul" if aid["is_below_detection"] else "moisture_per_aid_ul"
    if aid[name] is None:
        found.append(
            "It has no usable moisture reading: neither a number, nor 'below detection' from a "
            "chamber whose limit is known."
        )
    return found


def is_alone(aids: list[dict[str, Any]]) -> bool:
    """Tell whether the load was this one aid and nothing else."""
    return len(aids) == 1 and bool(aids[0]["is_alone"]) and bool(aids[0]["is_complete"])


def is_readable(aid: dict[str, Any]) -> bool:
    """Tell whether the chamber's readings of that day may be looked at."""
    return aid["standing"] is not None and aid["standing"] not in STANDING


def band(value: float, *, is_below: bool, cell: dict[str, Any]) -> str:
    """Tell whether a reading is less than usual, usual or more than usual for its cell.

    Usual runs from the 10th to the 90th centile. A centile that lies among the readings below
    detection has no value: then nothing is less than usual, and where it is the 90th, a reading
    above the highest limit is more than usual.

    Args:
        value: the reading, or its limit where is_below, µL per aid.
        is_below: the reading is below detection.
        cell: `centiles` {centile: µL or None} and `highest_limit_ul`.
    """
    least, most = cell["centiles"][LOW], cell["centiles"][HIGH]
    if least is not None and (value <= least if is_below else value < least):
        return "less"
    limit = most if most is not None else cell["highest_limit_ul"]
    return "more" if not is_below and limit is not None and value > limit else "usual"


def _wetting(aids: list[dict[str, Any]]) -> list[str]:
    kinds = [aid["exposure"] for aid in aids]
    known = [kind for kind in kinds if kind not in {None, "unknown", "none_known"}]
    if known or any(aid["visit_reason"] == "water_incident" for aid in aids):
        told = f": {words.label(known[0])}" if known else " in a water incident"
        return [f"It had been exposed{told}. Its peers had no known exposure."]
    if any(kind != "none_known" for kind in kinds):
        return ["Whether it had been exposed to water is not recorded. Its peers were not."]
    return []


def _compared(
    warehouse: Path, settings: Settings, aid: dict[str, Any], value: float, *, is_below: bool
) -> Comparison | None:
    """Place a reading in the finest cell with enough wearers; None where none has enough."""
    cell = _cell(peers.read_cells(warehouse, aid), settings.smallest_cell)
    if cell is None:
        return None
    rows = peers.read_peers(warehouse, cell)
    found = place(
        value, is_below=is_below, values=rows["value_ul"].to_numpy(),
        below=rows["is_below"].to_numpy(), wearers=rows["wearers"].to_numpy(),
        level=settings.confidence_level,
    )  # fmt: skip
    if found is None or found.peers < settings.smallest_cell:
        return None
    return Comparison(
        cell=cell,
        band=band(value, is_below=is_below, cell=cell),
        peers=found.peers,
        share=found.share,
        share_up_to=found.share_up_to,
        share_low=found.low,
        share_high=found.high,
        is_tied=found.is_tied,
    )


def _chosen(rows: pl.DataFrame) -> list[dict[str, Any]]:
    """Return the session's aids, or refuse a sheet of them."""
    if rows.is_empty():
        raise HandoutError(
            "no such session counts at this site",
            expected="the site's id and the session's id as in the export, in clear",
            done=NO_SHEET,
            todo="Look for its row on the quality page, among the refused rows.",
        )
    aids = rows.to_dicts()
    if any(aid["treatment"] != "dried" for aid in aids):
        raise HandoutError(
            "the aid was cleaned, not dried: the sheets tell what drying did", done=NO_SHEET
        )
    if len({aid["wearer_key"] for aid in aids}) > 1:
        raise HandoutError(
            "the session's aids are not known to be of one wearer",
            found=f"{len(aids)} aids without one wearer's id in common",
            done=NO_SHEET,
            todo="Record the wearer's id of each aid; dry one wearer's aids per load.",
        )
    if any(aid["is_outside_rates"] for aid in aids):
        raise HandoutError(
            "bone-conduction aids, CROS transmitters and implant sound processors are not covered "
            "by the sheets",
            done=NO_SHEET,
            todo="Follow the maker's instructions only.",
        )
    return aids


def _cell(cells: pl.DataFrame, smallest_cell: int) -> dict[str, Any] | None:
    """Return the finest cell whose outer centiles are known; None where none has them."""
    few = pl.col("withheld").is_in(["too_few_wearers", "limits_differ"]) & pl.col("centile").is_in(
        [LOW, HIGH]
    )
    fit = cells.filter(
        ~few.any().over("level")
        & (pl.col("withheld").fill_null("") != "no_fit").all().over("level")
        & (pl.col("wearers") >= smallest_cell)
    )
    if fit.is_empty():
        return None
    rows = fit.filter(pl.col("level") == pl.col("level").min())
    found = rows.row(0, named=True)
    centiles = dict(rows.select("centile", "moisture_per_aid_ul").rows())
    names = (*peers.CELL, "wearers", "below_detection", "highest_limit_ul")
    bounds = rows.filter(pl.col("withheld") == "limits_differ").drop_nulls("bound_high_ul")
    between = {c: (low, high) for c, low, high in
               bounds.select("centile", "bound_low_ul", "bound_high_ul").rows()}  # fmt: skip
    return {name: found[name] for name in names} | {"centiles": centiles, "between": between}
