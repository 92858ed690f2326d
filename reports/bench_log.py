"""The bench log: a sheet of paper on which one line becomes one row of the contract."""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources

import jinja2
from markupsafe import Markup

from reports import cautions
from reports.security import policy
from schemas import outcomes, vocabulary
from schemas.exports.catalogue import ColumnSpec
from schemas.meaning import each_of

LINES = 16
WIDTHS = {"short": 5, "word": 7, "code": 8, "moment": 9}


@dataclass(frozen=True)
class LogColumn:
    """One column of the paper: contract column, heading, how it is written, width."""

    name: str
    heading: str
    ring: bool = False
    width: str = "word"


COLUMNS = (
    LogColumn("started_at", "Date, time", width="moment"),
    LogColumn("dryer_id", "Chamber", width="short"),
    LogColumn("device_id", "Aid, serial", width="code"),
    LogColumn("patient_id", "Wearer, number", width="code"),
    LogColumn("ear", "Ear", ring=True, width="short"),
    LogColumn("device_style", "Style", width="short"),
    LogColumn("cell_in_chamber", "Cell", width="word"),
    LogColumn("exposure", "Wet by", width="word"),
    LogColumn("hours_since_exposure", "Hours since", width="short"),
    LogColumn("condition_before", "On arrival", ring=True, width="short"),
    LogColumn("parts_changed", "Parts changed", width="word"),
    LogColumn("condition_after_cleaning", "After cleaning", ring=True, width="short"),
    LogColumn("cycle_minutes", "Minutes", width="short"),
    LogColumn("moisture_ul", "Reading, µL", width="short"),
    LogColumn("condition_after", "After drying", ring=True, width="short"),
    LogColumn("disposition", "Then", width="word"),
)
LETTERS = {condition: said.letter for condition, said in outcomes.TOLD.items()} | each_of(
    "LETTERS", vocabulary.EAR, {"left": "L", "right": "R", "unknown": "?"}
)


def bench_log(site_id: str, specs: Mapping[str, ColumnSpec]) -> str:
    """Return a self-contained page for A4 landscape.

    Args:
        site_id: the clinic, printed on the sheet.
        specs: the contract's columns of sessions by name.
    """
    style = resources.files("reports").joinpath("bench_log.css").read_text(encoding="utf-8")
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("reports", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    columns = [
        {
            "name": column.name,
            "heading": column.heading,
            "width": column.width,
            "is_required": specs[column.name].required,
            "letters": [LETTERS[word] for word in specs[column.name].vocabulary or ()]
            if column.ring
            else [],
        }
        for column in COLUMNS
    ]
    keys = [
        {
            "heading": column.heading,
            "words": [
                f"{LETTERS[word]} {_plain(word)}" if column.ring else word
                for word in specs[column.name].vocabulary or ()
            ],
            "is_several": specs[column.name].several,
        }
        for column in COLUMNS
        if specs[column.name].vocabulary
        and column.name not in {"condition_after", "condition_after_cleaning"}
    ]
    return environment.get_template("bench_log.html.j2").render(
        site_id=site_id,
        style=Markup(style),  # noqa: S704  (this package's own, hashed in the policy)
        policy=policy(style, None),
        columns=columns,
        keys=keys,
        lines=range(LINES),
        cautions=(*cautions.CELLS, cautions.HYGIENE),
    )


def _plain(word: str) -> str:
    return word.replace("_", " ")
