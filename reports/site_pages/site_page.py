"""A page for each site: against expectation, its chambers, its aids, its fixes, its months."""

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from reports import rates, words
from reports.figure import Frames, HtmlPanel, Strip
from reports.html_panels import grid_panel
from reports.sheets.staff_room import MONTHS, file_name
from reports.site_pages import aids, chambers, expectation, fixes, months

FOLDER = "staff-room"
MOST_NAMED = 3


@dataclass(frozen=True)
class SitePage:
    """What one site's page says; lists are empty where there is nothing."""

    id: str
    name: str
    lead: str
    attention: list[fixes.Item]
    expectations: list[expectation.Expectation]
    chambers: list[chambers.Chamber]
    readings: HtmlPanel | None
    strip: Strip | None
    strip_words: str
    rates: list[tuple[str, Markup, str]]
    refused: list[fixes.Fix]
    checks: list[fixes.Fix]
    calendar: HtmlPanel | None
    signals: list[str]
    sheets: list[tuple[str, str]]


def site_pages(frames: Frames) -> Iterator[SitePage]:
    """Make the pages of all sites, by id; every table is gone through once."""
    names = rates.site_names(frames)
    expected, held = expectation.by_site(frames), chambers.by_site(frames)
    as_counted, seen = expectation.rates_by_site(frames), aids.by_site(frames)
    items, refused = fixes.attention_by_site(frames), fixes.refused_by_site(frames)
    checks = fixes.checks_by_site(frames)
    calendars, signals = months.by_site(frames), months.signals_by_site(frames)
    sheets = sheets_by_site(frames)
    for site, name in sorted(names.items()):
        own = held.get(site)
        strip, strip_words = seen.get(site, (None, "No dead aid has been loaded yet."))
        yield SitePage(
            id=site, name=name,
            lead=_lead(items.get(site, []), expected.get(site, []), chambers.faults(own)),
            attention=items.get(site, []), expectations=expected.get(site, []),
            chambers=own.told if own else [], readings=own.picture if own else None,
            strip=strip, strip_words=strip_words, rates=as_counted.get(site, []),
            refused=refused.get(site, []), checks=checks.get(site, []),
            calendar=grid_panel(calendars[site]) if site in calendars else None,
            signals=signals.get(site, []), sheets=sheets.get(site, []),
        )  # fmt: skip


def sheets_by_site(frames: Frames) -> dict[str, list[tuple[str, str]]]:
    """Return the files of each site's sheets for the staff room, and their months, newest first."""
    use = rates.table(frames, "utilisation")
    if use.is_empty():
        return {}
    found: dict[str, list[tuple[str, str]]] = {}
    pairs = use.select("site_id", "month").unique().sort("site_id", "month", descending=True)
    for site, month in pairs.rows():
        own = found.setdefault(site, [])
        if len(own) < MONTHS:
            own.append((f"{FOLDER}/{file_name(site, month)}", words.month(month)))
    return found


def _lead(
    items: list[fixes.Item], expected: list[expectation.Expectation], faults: list[str]
) -> str:
    """Say what stands out at the site, in a sentence or two."""
    said = [
        f"{words.plural(len(items), 'thing needs', 'things need')} attention."
        if items else "Nothing needs attention."
    ]  # fmt: skip
    apart = expectation.apart(expected)
    if apart:
        text = "; ".join(apart)
        said.append(f"{text[:1].upper()}{text[1:]}.")
    elif any(one.drawing for one in expected):
        said.append("No result differs clearly from what its aids lead to expect.")
    elif expected:
        said.append("No result of it carries a verdict yet.")
    if faults:
        more = len(faults) - MOST_NAMED
        named = ", ".join(faults[:MOST_NAMED])
        said.append(f"Chambers: {named}{f' and {more} more' if more > 0 else ''}.")
    return " ".join(said)
