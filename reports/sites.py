"""The sites that a reader can follow through the pages, each with a page of its own."""

import re
from dataclasses import dataclass
from hashlib import sha256

from reports import rates
from reports.figure import Frames

# Whether the pages of sites are written; until then no link leads to one.
HAVE_PAGES = True
PREFIX = "at-"
PLAIN = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")


@dataclass(frozen=True)
class Followed:
    """A site: its id, its name as told apart from others, and the file of its page, if any."""

    id: str
    name: str
    page: str | None


def followed(frames: Frames) -> list[Followed]:
    """Return every site, by name."""
    names = rates.site_names(frames)
    found = [
        Followed(id_, name, site_page(id_) if HAVE_PAGES else None) for id_, name in names.items()
    ]
    return sorted(found, key=lambda site: (site.name.lower(), site.id))


def site_page(site_id: str) -> str:
    """Name the file of a site's page; an id that is no plain file name is hashed."""
    if PLAIN.fullmatch(site_id):
        return f"{PREFIX}{site_id}.html"
    return f"{PREFIX}{sha256(site_id.encode()).hexdigest()[:12]}.html"
