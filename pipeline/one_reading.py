"""One reading against its peers: find it, refuse it where it says nothing, place it."""

from pathlib import Path
from typing import Any

import polars as pl

from pipeline.errors import HandoutError
from pipeline.settings import Settings
from pipeline.statistics.peers import place
from pipeline.warehouse import peers
from reports.sheets.handout import Handout

NO_SHEET = "No sheet was written."
CHECK = "Run dose checks of the chamber, load them, and use a later reading."
STANDING = {
    "out_of_tolerance": "the chamber was out of tolerance that day",
    "never_checked": "the chamber had not yet been checked by that day",
}
# The outer centiles are what tells usual from less and more.
LOW, HIGH = 10, 90


def gather(warehouse: Path, settings: Settings, asked: peers.Asked) -> Handout:
    """Collect all that the two sheets say of one session.

    Args:
        warehouse: the published warehouse.
        settings: the group's settings.
        asked: the session.

    Raises:
        HandoutError: where no such session counts, or its reading may not be set against peers:
            not dried, not alone in the chamber, no reading, a kind of aid outside every centile,
            a chamber out of tolerance or never checked, or too few peers.
    """
    aid = _chosen(peers.read_session(warehouse, asked))
    cell = _cell(peers.read_cells(warehouse, aid), settings.smallest_cell)
    rows = peers.read_peers(warehouse, cell)
    is_below = bool(aid["is_below_detection"])
    value = aid["moisture_limit_per_aid_ul" if is_below else "moisture_per_aid_ul"]
    found = place(
        value, is_below=is_below, values=rows["value_ul"].to_numpy(),
        below=rows["is_below"].to_numpy(), wearers=rows["wearers"].to_numpy(),
        level=settings.confidence_level,
    )  # fmt: skip
    if found is None or found.peers < settings.smallest_cell:
        raise _few(settings.smallest_cell)
    recheck = peers.read_recheck(warehouse, aid["device_style"])
    return Handout(
        aid=aid,
        value_ul=value,
        is_below=is_below,
        cell=cell,
        band=band(value, is_below=is_below, cell=cell),
        peers=found.peers,
        share=found.share,
        share_up_to=found.share_up_to,
        share_low=found.low,
        share_high=found.high,
        is_tied=found.is_tied,
        earlier=peers.read_earlier(warehouse, asked.site_id, aid["device_key"], aid["local_date"]),
        suggested_months=recheck["suggested_months"][0] if recheck.height else None,
        run=peers.read_run(warehouse),
        level=settings.confidence_level,
    )


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


def _chosen(aids: pl.DataFrame) -> dict[str, Any]:
    """Return the session's one aid, or refuse it."""
    if aids.is_empty():
        raise HandoutError(
            "no such session counts at this site",
            expected="the site's id and the session's id as in the export, in clear",
            done=NO_SHEET,
            todo="Look for its row on the quality page, among the refused rows.",
        )
    aid = aids.row(0, named=True)
    if aid["treatment"] != "dried":
        raise HandoutError("the aid was cleaned, not dried: there is no reading", done=NO_SHEET)
    if aids.height > 1 or not aid["is_alone"] or not aid["is_complete"]:
        raise HandoutError(
            "the aid was not alone in the chamber: the reading is that of the whole load",
            found=(
                f"{aid['aids_in_chamber']} aids"
                if aid["aids_in_chamber"] > 1
                else "one aid, with other items or with a refused row of the load"
            ),
            done=NO_SHEET,
            todo="Dry an aid alone where its own reading matters.",
        )
    if aid["is_outside_rates"]:
        raise HandoutError(
            "bone-conduction aids, CROS transmitters and implant sound processors have no centiles",
            done=NO_SHEET,
            todo="Follow the maker's instructions only.",
        )
    if aid["standing"] is None or aid["standing"] in STANDING:
        raise HandoutError(
            STANDING.get(aid["standing"], "the session names no chamber"), done=NO_SHEET, todo=CHECK
        )
    name = "moisture_limit_per_aid_ul" if aid["is_below_detection"] else "moisture_per_aid_ul"
    if aid[name] is None:
        raise HandoutError(
            "the session has no usable moisture reading",
            expected="a reading, or 'below detection' from a chamber whose limit is known",
            done=NO_SHEET,
        )
    return aid


def _cell(cells: pl.DataFrame, smallest_cell: int) -> dict[str, Any]:
    """Return the finest cell with enough wearers for the outer centiles."""
    few = (pl.col("withheld") == "too_few_wearers") & pl.col("centile").is_in([LOW, HIGH])
    fit = cells.filter(
        ~few.any().over("level")
        & (pl.col("withheld").fill_null("") != "no_fit").all().over("level")
        & (pl.col("wearers") >= smallest_cell)
    )
    if fit.is_empty():
        raise _few(smallest_cell)
    rows = fit.filter(pl.col("level") == pl.col("level").min())
    found = rows.row(0, named=True)
    centiles = dict(rows.select("centile", "moisture_per_aid_ul").rows())
    names = (*peers.CELL, "wearers", "below_detection", "highest_limit_ul")
    return {name: found[name] for name in names} | {"centiles": centiles}


def _few(smallest_cell: int) -> HandoutError:
    return HandoutError(
        "too few peers: no cell of this kind of aid has enough wearers",
        expected=f"at least 45 wearers, and never under {smallest_cell}",
        done=NO_SHEET,
        todo="The moisture page shows which kinds of aid have centiles.",
    )
