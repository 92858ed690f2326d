"""`drytally acknowledge`: a known item of what needs attention, until a day, with a reason."""

import argparse
from datetime import UTC, date, datetime

from pipeline.commands.attention import named_place, read_items
from pipeline.commands.refresh import day
from pipeline.commands.store_option import add_store, published
from pipeline.errors import UsageError
from pipeline.store import acknowledged
from pipeline.store import ledger as ledgers
from pipeline.store.layout import Store
from pipeline.store.lock import one_refresh

LONGEST_DAYS = 366


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = "A run ends with 0 while nothing else waits."
    parser.add_argument("item", metavar="ITEM", help="the item's id, as status shows it")
    add_store(parser)
    parser.add_argument("--until", type=day, metavar="DATE", help="last day on which it is known")
    parser.add_argument("--reason", metavar="TEXT", help="why, without any person's details")
    parser.add_argument("--withdraw", action="store_true", help="take an acknowledgement back")


def run(given: argparse.Namespace) -> int:
    """Acknowledge one item, or take that back."""
    store = published(given.store)
    known = acknowledged.read_acknowledged(store)
    if given.withdraw:
        return _withdraw(store, known, given.item)
    today = datetime.now(UTC).date()
    reason = _reason(given.reason)
    until = _until(given.until, today)
    listed = read_items(store.warehouse, ledgers.read_last(store).run_id) or []
    items = {item["item_id"]: item for item in listed}
    if given.item not in items:
        raise UsageError(
            f"there is no item '{given.item}' in what needs attention",
            todo=f"drytally status --store {store.folder} lists them with their ids.",
        )
    with one_refresh(store):
        known[given.item] = acknowledged.Acknowledgement(given.item, until, reason, today)
        acknowledged.write_acknowledged(store, known.values())
    item = items[given.item]
    print(f"Known until {until}: {item['words']} {named_place(item)}".rstrip())
    if item["severity"] == "harm":
        print("It stays on the pages: a possible harm is never taken off them.")
    print("The pages say so from the next refresh or render on.")
    return 0


def _withdraw(store: Store, known: dict[str, acknowledged.Acknowledgement], item_id: str) -> int:
    if item_id not in known:
        raise UsageError(f"item '{item_id}' is not acknowledged")
    with one_refresh(store):
        rest = [one for one in known.values() if one.item_id != item_id]
        acknowledged.write_acknowledged(store, rest)
    print(f"Item {item_id} counts as unknown again.")
    return 0


def _reason(text: str | None) -> str:
    """Return the reason, on one line.

    Raises:
        UsageError: where there is none, it is long, or it looks like a person's details.
    """
    told = " ".join((text or "").split())
    if not told or len(told) > acknowledged.MOST_SIGNS:
        raise UsageError(
            "a reason is needed", expected=f"--reason with 1 to {acknowledged.MOST_SIGNS} signs"
        )
    from pipeline.screening.personal import tells_a_person  # noqa: PLC0415

    if tells_a_person(told):
        raise UsageError(
            "the reason looks as if it held a person's details",
            expected="a reason without names, numbers of people, addresses or birth dates",
            done="Nothing was kept.",
        )
    return told


def _until(last: date | None, today: date) -> date:
    """Return the last day.

    Raises:
        UsageError: where it is missing, past, or over a year away.
    """
    if last is None or last < today or (last - today).days > LONGEST_DAYS:
        raise UsageError(
            "the last day is missing, past or too far away",
            expected=f"--until with a day from {today} on, at most {LONGEST_DAYS} days away",
        )
    return last
