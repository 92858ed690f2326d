"""What one task screens: all that it needs but the key, to be handed to a thread or a machine.

The key that hides identifiers never travels: who fulfils an order has it, and knows by its
fingerprint that it is the right one.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.intake.changes import likely_bytes
from pipeline.intake.names import listed
from pipeline.screening.batch import screen_batch
from pipeline.screening.reading import FileResult, Work
from pipeline.store.layout import Store

# About half a second of screening: what a task costs by itself is a fiftieth of that.
LEAST_BYTES = 4 * 1024**2


@dataclass(frozen=True, repr=False)
class Order:
    """Batches to screen into a store, each of one table.

    Attributes:
        number: its place among the run's orders.
        batches: the batches, in the order in which they are screened.
        store: where parts are written.
        zones: IANA zone by site.
        erased: keyed hashes of erased wearers and aids.
        boxes: site and id of the test boxes that are stored as they are.
        key_fingerprint: of the key that hides identifiers.
        run_id, code_version: whose parts these are.
    """

    number: int
    batches: tuple[tuple[Work, ...], ...]
    store: Store
    zones: Mapping[str, str]
    link_wearers: bool
    overwrite: bool
    erased: frozenset[str]
    boxes: frozenset[tuple[str, str]]
    key_fingerprint: str
    is_demo: bool
    run_id: str
    code_version: str

    def __repr__(self) -> str:
        """Say nothing of paths or corrections: schedulers print what they hand out."""
        return f"<order {self.number} of run {self.run_id}: {self.files} files>"

    @property
    def files(self) -> int:
        """Files to screen."""
        return sum(len(batch) for batch in self.batches)

    @property
    def bytes(self) -> int:
        """About how many bytes of text these are."""
        return sum(_bytes(batch) for batch in self.batches)

    @property
    def sites(self) -> list[str]:
        """Sites whose files these are."""
        return sorted({item.site_id for batch in self.batches for item in batch if item.site_id})

    @property
    def label(self) -> str:
        """What is screened, by table and site, in a few words."""
        tables = listed(list(dict.fromkeys(batch[0].table_name for batch in self.batches)))
        sites = self.sites
        of = f" of {sites[0]}" if sites else ""
        of += f" to {sites[-1]}" if len(sites) > 1 else ""
        return f"{tables}{of}, {self.files} files"


def fulfil(order: Order, key: bytes) -> dict[str, FileResult]:
    """Screen the batches of an order and write their parts; returns what was found, by file."""
    results: dict[str, FileResult] = {}
    for batch in order.batches:
        results |= screen_batch(
            batch, order.store, key=key, zones=order.zones, link_wearers=order.link_wearers,
            overwrite=order.overwrite, erased=order.erased, boxes=order.boxes,
        )  # fmt: skip
    return results


def counted(order: Order, results: Mapping[str, FileResult]) -> dict[str, Any]:
    """Return what a scheduler may know of an order that was fulfilled: counts, names of parts."""
    found = list(results.values())
    return {
        "order": order.number,
        "files": order.files,
        "files_refused": sum(bool(one.refusal) for one in found),
        "rows_read": sum(one.rows_read for one in found),
        "accepted": sum(one.accepted for one in found),
        "quarantined": sum(one.quarantined for one in found),
        "parts": sorted({f"{kind}/{name}" for one in found for kind, name in one.parts.items()}),
    }


def together(batches: Iterable[Sequence[Work]]) -> list[tuple[tuple[Work, ...], ...]]:
    """Put neighbouring batches together until each group is worth a task."""
    groups: list[tuple[tuple[Work, ...], ...]] = []
    size = LEAST_BYTES
    for batch in batches:
        if size >= LEAST_BYTES:
            groups.append(())
            size = 0
        groups[-1] += (tuple(batch),)
        size += _bytes(batch)
    return groups


def _bytes(batch: Sequence[Work]) -> int:
    return sum(likely_bytes(item.shown, item.bytes) for item in batch)
