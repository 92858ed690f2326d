"""Which site to look at first, and about what: by the severity of what needs attention there."""

from collections import Counter
from dataclasses import dataclass
from typing import Any

from reports import rates, words
from reports.figure import Frames
from schemas.vocabulary import SEVERITY

MOST_NAME, MOST_ABOUT = 30, 78
NAMED_BY_SUBJECT = ("chamber", "chamber_pump")


@dataclass(frozen=True)
class First:
    """The site that comes first, and the gravest thing found there."""

    site_id: str
    name: str
    about: str

    @property
    def text(self) -> str:
        """The site and what it is about, as a title."""
        return f"Look first at {words.cut(self.name, MOST_NAME)}: {self.about}"


def first(frames: Frames) -> First | None:
    """Choose the site with most items of the gravest severity found anywhere.

    Ties are settled by the next severity and so on, then by how many were counted, then by name;
    what somebody knows of already does not count. None where no item names a site.
    """
    items = rates.table(frames, "attention_item")
    rows = [] if items.is_empty() else [row for row in items.to_dicts() if _is_open(row)]
    if not rows:
        return None
    names = rates.site_names(frames)
    by_site: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        by_site.setdefault(row["site_id"], []).append(row)

    def weight(site: str) -> tuple[Any, ...]:
        own = Counter(row["severity"] for row in by_site[site])
        return (*(-own[severity] for severity in SEVERITY), -_gravest(by_site[site])["number"],
                names.get(site, site).lower(), site)  # fmt: skip

    site = min(by_site, key=weight)
    return First(site, names.get(site, site), _gravest(by_site[site])["about"])


def _is_open(row: dict[str, Any]) -> bool:
    return row["site_id"] is not None and not row.get("acknowledged_until")


def _gravest(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Return what a site's gravest item is about, the most counted of equal ones, and how many."""
    order = {severity: place for place, severity in enumerate(SEVERITY)}
    row = min(rows, key=lambda r: (order[r["severity"]], -(r["count"] or 0), r["words"]))
    said = row["words"].partition(". ")[0].rstrip(".")
    said = words.cut(f"{said[:1].lower()}{said[1:]}", MOST_ABOUT)
    if row["item_kind"] in NAMED_BY_SUBJECT:
        said = f"{row['subject']}, {said}"
    return {"about": said, "number": row["count"] or 0}
