"""What the overview page says: what needs attention, findings, facts of the load."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from reports import check_words, edition, rates, words
from reports.figure import Frames
from reports.figure_texts import FigureText
from reports.figures import account
from schemas import vocabulary
from schemas.meaning import each_of
from schemas.vocabulary import CHANGE_HEADINGS, SEVERITY_HEADINGS

FINDINGS = (
    "rescue-by-condition", "routine-verdict", "compared-dead", "compared-weak",
    "repairs-avoided", "chamber-use", "dose-checks", "moisture-by-season",
)  # fmt: skip
MOST_NAMED = 12
MOST_CHANGES = 5
MOST_CHECKS = 3
GAPS = "Records are missing, copied or unlikely more often than tolerated."
MOST_PRINTED, LEAST_PRINTED, FEW_ROWS = 10, 7, 15
TAGS = each_of(
    "TAGS",
    vocabulary.SEVERITY,
    {"harm": "Possible harm", "safety": "Safety", "result": "Results", "record": "Records"},
)
SUBJECTS_NAMED = ("chamber", "chamber_pump", "file")
LINKS = {
    "care": "the evidence", "sites": "the comparison of sites", "chambers": "the chambers",
    "quality": "the records",
}  # fmt: skip


Expected = Mapping[tuple[str, str], float]


@dataclass(frozen=True)
class Fact:
    """A number of the load and its words."""

    words: str
    value: str


@dataclass(frozen=True)
class Finding:
    """A figure's computed title and where it stands."""

    page: str
    id: str
    title: str
    question: str


@dataclass(frozen=True)
class Place:
    """Where something was found, how many, and until when somebody knows of it."""

    name: str
    number: str
    known: str = ""


@dataclass(frozen=True)
class Changed:
    """One kind of change of the newest run: how many, and those named."""

    heading: str
    told: list[str]
    more: int


@dataclass(frozen=True)
class Attention:
    """Something to look at: the words, how many in all, each place, and where more is said."""

    words: str
    total: str
    places: list[Place]
    more: int
    page: str
    anchor: str
    link: str

    @property
    def finding(self) -> str:
        """What was found: the first sentence."""
        return self.words.partition(". ")[0].rstrip(".")

    @property
    def advice(self) -> str:
        """What to do: the sentences after it."""
        return self.words.partition(". ")[2]


@dataclass(frozen=True)
class Severity:
    """One degree of severity and what stands under it."""

    id: str
    heading: str
    told: list[Attention]

    @property
    def tag(self) -> str:
        """The severity in a word or two."""
        return TAGS[self.id]


def facts(frames: Frames) -> list[Fact]:
    """Sum the row account and name the months covered."""
    files = account.per_file(frames)
    if files.is_empty():
        return [Fact("Files read", "0")]
    loaded = files.filter(~pl.col("status").is_in(["refused", "held", "copy"]))
    sums = {name: rates.sum_of(files, name) for name in
            ("rows_read", "accepted", "quarantined", "duplicate", "values_refused")}  # fmt: skip
    found = [
        Fact("Sites", words.count(rates.table(frames, "site").height)),
        Fact("Files loaded, of files read",
             f"{words.count(loaded.height)} of {words.count(files.height)}"),
        Fact("Rows read", words.count(sums["rows_read"])),
        Fact("Rows accepted", words.count(sums["accepted"])),
        Fact("Rows refused", words.count(sums["quarantined"])),
        Fact("Duplicate rows", words.count(sums["duplicate"])),
        Fact("Values refused alone", words.count(sums["values_refused"])),
    ]  # fmt: skip
    covered = rates.period(frames).lstrip(", ")
    return [*found, Fact("Months with sessions", covered)] if covered else found


def findings(figures: Sequence[tuple[str, FigureText]]) -> list[Finding]:
    """Pick the overview's figures by id, each once, in the declared order."""
    by_id: dict[str, Finding] = {}
    for page, figure in figures:
        by_id.setdefault(figure.id, Finding(page, figure.id, figure.title, figure.question))
    return [by_id[id_] for id_ in FINDINGS if id_ in by_id]


def reported(frames: Frames) -> str:
    """Name the months that rates and comparisons cover; empty where nothing says."""
    sets = rates.table(frames, "analysis_set")
    if not sets.is_empty():
        sets = sets.filter(pl.col("reason").fill_null("") != "before_period")
    if sets.is_empty():
        return rates.period(frames).lstrip(", ")
    first, last = sets["first_month"].min(), sets["last_month"].max()
    return f"{words.month(first)} to {words.month(last)}"  # type: ignore[arg-type]


def attention(frames: Frames) -> list[Severity]:
    """List what somebody should look at, by severity; things told alike stand together."""
    items = rates.table(frames, "attention_item")
    if items.is_empty():
        return []
    names, expected = rates.site_names(frames), _expected(frames)
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for item in items.sort("words", "count", "site_id", "subject", nulls_last=True).to_dicts():
        words_of = GAPS if _is_gap(item) else item["words"]
        groups.setdefault((item["severity"], words_of), []).append(item)
    return [
        Severity(severity, heading, told)
        for severity, heading in SEVERITY_HEADINGS.items()
        if (told := [
            _gaps(own, names) if words_of == GAPS else _told(own, names, expected)
            for (its, words_of), own in groups.items() if its == severity
        ])
    ]  # fmt: skip


def attention_title(frames: Frames) -> str:
    """Say at how many sites something of each severity needs attention, the gravest first."""
    items = rates.table(frames, "attention_item")
    if items.is_empty():
        return "Nothing needs attention"
    told: list[str] = []
    for severity in SEVERITY_HEADINGS:
        own = items.filter(severity=severity)
        n = own["site_id"].drop_nulls().n_unique()
        if not own.is_empty():
            is_said = any(" site" in text for text in told)  # the noun, once
            noun = words.count(n) if is_said else words.plural(n, "site")
            where = f"at {noun}" if n else "in the group"
            told.append(f"{TAGS[severity][:1].lower()}{TAGS[severity][1:]} {where}")
    return f"What needs attention: {', '.join(told)}"


def most_printed(rows: int) -> int:
    """Return how many things that need attention one A4 has room for, under so many sites."""
    return MOST_PRINTED if rows <= FEW_ROWS else LEAST_PRINTED


def no_changes(run: Mapping[str, Any]) -> str:
    """Say why no change is listed."""
    if run.get("edition") != edition.INSIDE:
        return "This edition does not say which files and items changed."
    if run.get("sequence") == 1:
        return "This is the first run: there is none before it."
    return "Nothing: no file and no item differs."


def _is_gap(item: dict[str, Any]) -> bool:
    return (item["severity"], item["item_kind"]) == ("record", "quality")


def _gaps(items: list[dict[str, Any]], names: dict[str, str]) -> Attention:
    """Put the checks of records together by site: a site that sends little fails many."""
    sites: dict[str, list[str]] = {}
    for item in items:
        sites.setdefault(item["site_id"], []).append(check_words.check(item["subject"]))
    most = sorted(sites.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    places = [
        Place(names.get(site, site), f"{words.plural(len(own), 'check')}: {_some(own)}")
        for site, own in most[:MOST_NAMED]
    ]
    total = f"{words.plural(len(items), 'check')} at {words.plural(len(sites), 'site')}"
    return Attention(
        GAPS, total if len(items) > 1 else "", places, max(0, len(most) - MOST_NAMED), "quality",
        "quality-checks", LINKS["quality"],
    )  # fmt: skip


def _some(own: list[str]) -> str:
    named = "; ".join(name[:1].lower() + name[1:] for name in sorted(own)[:MOST_CHECKS])
    return f"{named} and {len(own) - MOST_CHECKS} more" if len(own) > MOST_CHECKS else named


def _expected(frames: Frames) -> Expected:
    """Return how many were expected by site and outcome, where that is told."""
    compared = rates.table(frames, "site_comparison")
    if compared.is_empty():
        return {}
    known = compared.drop_nulls("expected").select("site_id", "outcome", "expected")
    return {(site, outcome): expected for site, outcome, expected in known.iter_rows()}


def _told(items: list[dict[str, Any]], names: dict[str, str], expected: Expected) -> Attention:
    items = sorted(items, key=lambda item: -(item["count"] or 0))
    first = items[0]
    places = [_place(item, names, expected) for item in items[:MOST_NAMED]]
    return Attention(
        first["words"], _total(items), places,
        max(0, len(items) - MOST_NAMED), first["page"], first["anchor"], LINKS[first["page"]],
    )  # fmt: skip


def _total(items: list[dict[str, Any]]) -> str:
    """Count what was found in all, where every item counts it, and where."""
    sites = {item["site_id"] for item in items if item["site_id"]}
    counts = [item["count"] for item in items]
    if len(items) < 2 or not sites:
        return ""
    at = f"{words.plural(len(items), 'time')} at {words.plural(len(sites), 'site')}"
    if len(items) == len(sites):
        at = f"at {words.plural(len(sites), 'site')}"
    return at if None in counts else f"{words.count(sum(counts))} {items[0]['counted_words']} {at}"


def _place(item: dict[str, Any], names: dict[str, str], expected: Expected) -> Place:
    where = names.get(item["site_id"], item["site_id"]) if item["site_id"] else None
    subject = item["subject"] if item["item_kind"] in SUBJECTS_NAMED else None
    number = ""
    if item["count"] is not None:
        number = words.count(item["count"])
        if item["out_of"] is not None:
            number += f" of {words.count(item['out_of'])}"
        if item["item_kind"] == "site_outcome" and (item["site_id"], item["subject"]) in expected:
            number += f", {words.count(expected[item['site_id'], item['subject']])} expected"
    known = ""
    if item.get("acknowledged_until"):
        known = f"known until {item['acknowledged_until']}: {item['reason']}"
    return Place(" ".join(part for part in (where, subject) if part), number, known)


def changes(frames: Frames) -> list[Changed]:
    """List what the newest run changed, kind by kind; nothing where the edition does not say."""
    frame = rates.table(frames, "refresh_change")
    if frame.is_empty():
        return []
    names = rates.site_names(frames)
    found = []
    for kind, heading in CHANGE_HEADINGS.items():
        own = frame.filter(pl.col("change_kind") == kind).to_dicts()
        if own:
            told = [_change(row, names) for row in own[:MOST_CHANGES]]
            found.append(Changed(f"{heading} ({words.count(len(own))})", told,
                                 len(own) - len(told)))  # fmt: skip
    return found


def _change(row: dict[str, Any], names: dict[str, str]) -> str:
    site = names.get(row["site_id"], row["site_id"]) if row["site_id"] else ""
    if row["table_name"] is None:
        return f"{site}: {row['words']}" if site else str(row["words"])
    lines = f" Lines {row['first_lines']}." if row["first_lines"] else ""
    return f"{row['subject']}: {row['words']}{lines}"
