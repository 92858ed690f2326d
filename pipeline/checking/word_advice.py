"""Advice on words: slips of the pen, the clinic's own words, names where words belong, chambers."""

import difflib
from typing import TYPE_CHECKING

from pipeline.checking.edits import APPEND, Edit
from pipeline.checking.faults import Fault
from pipeline.checking.said import FEW, Said, cells, is_habit, key, lines_out
from pipeline.checking.shown import looks_personal

if TYPE_CHECKING:
    from pipeline.checking.advice import Context

NEAR, SLIPS = 0.75, 2
TRUTHS = ("true", "false")


def nearest(word: str, allowed: tuple[str, ...]) -> str | None:
    """Return the allowed word that a slip of the pen most likely meant, or None."""
    plain = word.strip().lower().replace(" ", "_").replace("-", "_")
    near = difflib.get_close_matches(plain, allowed, n=1, cutoff=NEAR)
    return near[0] if near else None


def of_word(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on one word that is none of its column's list."""
    first = faults[0]
    column, raw = first.column or "", (first.raw or "").strip()
    spec = context.own.specs[column]
    allowed = spec.vocabulary or ()
    given = context.own.given(column)
    if looks_personal(raw):
        return _person(faults, context, allowed, given.len())
    near = nearest(raw, allowed)
    odd = given.filter(~given.str.to_lowercase().is_in(list(allowed))).len()
    own_words = odd >= FEW and 2 * odd >= given.len()
    is_slip = near is not None and len(faults) <= SLIPS and not own_words
    if not is_slip and (len(faults) >= FEW or own_words) and not spec.several:
        edit = key(context, ("values", column, raw), None, allowed)
        return Said(
            "the clinic's own word",
            f"Say once what it stands for, in {context.mapping}: one of the allowed words.",
            allowed, (edit,), faults, True,
        )  # fmt: skip
    nearest_told = f"Write {near}" if near else "Write one of the allowed words"
    return Said(
        "a slip in single cells",
        f"{nearest_told} in that cell of the export.",
        allowed, cells(faults, context, near, () if near else allowed), faults, False,
    )  # fmt: skip


def of_truth(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on a word where true or false belongs."""
    raw = (faults[0].raw or "").strip()
    if len(faults) >= FEW and not looks_personal(raw):
        edit = key(context, ("values", faults[0].column or "", raw), None, TRUTHS)
        return Said("the clinic's own word", f"Say once what it stands for, in {context.mapping}.",
                    TRUTHS, (edit,), faults, True)  # fmt: skip
    return Said("a slip in single cells", "Write true or false in that cell, or empty it.", TRUTHS,
                cells(faults, context, None, TRUTHS), faults, False)  # fmt: skip


def _person(
    faults: tuple[Fault, ...], context: "Context", allowed: tuple[str, ...], given: int
) -> Said:
    column = faults[0].column or ""
    if is_habit(len(faults), given):
        return Said(
            "texts that look like a person's details in a column of words",
            f"Is {column} read from the right column? Correct it in {context.mapping}, and leave"
            " the column with these texts out of the export.",
            allowed, cells(faults, context, "unknown" if "unknown" in allowed else None, allowed),
            faults, True,
        )  # fmt: skip
    return Said(
        "something like a person's details",
        "Remove it from the export and write one of the allowed words; if it is a word of your"
        f" own and nobody's name, say what it stands for in {context.mapping}.",
        allowed, cells(faults, context, None, allowed), faults, False,
    )  # fmt: skip


def of_person(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on text that looks like a person's details in a column of codes."""
    return Said(
        "something like a person's details",
        "Remove it from the export: empty the cell.",
        (), cells(faults, context, ""), faults, False,
    )  # fmt: skip


def of_chamber(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on a chamber that reference/dryers does not list at the site."""
    raw, listed = (faults[0].raw or "").strip(), context.chambers
    lower = {name.lower(): name for name in listed}
    near = lower.get(raw.lower()) or nearest(raw, listed)
    if listed and len(faults) <= SLIPS and faults[0].headers:
        named = near or (listed[0] if len(listed) == 1 else None)
        told = f"Write {named}" if named else "Write one of the listed chambers"
        return Said(
            "a slip in the chamber's name",
            f"{told} in that cell of the export; if it is a chamber of its own, list it in"
            " reference/dryers.csv.",
            listed, cells(faults, context, named, () if named else listed), faults, False,
        )  # fmt: skip
    site = context.item.site_id or ""
    edit = Edit(APPEND, "reference/dryers.csv", row=(("site_id", site), ("dryer_id", raw)))
    named = "List the chamber in reference/dryers.csv"
    if listed:
        named += f", or write one that is listed ({', '.join(listed)})"
    return Said("a chamber that is not listed", f"{named}; its rows then enter by themselves.",
                listed, (edit,), faults, True)  # fmt: skip


def of_no_chamber(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on runs of a log that name no chamber, where the site has not exactly one."""
    if context.chambers:
        edit = key(context, ("constants", "dryer_id"), None, context.chambers)
        return Said("a log of one of several chambers", f"Say once which, in {context.mapping}.",
                    context.chambers, (edit,), faults, True)  # fmt: skip
    site = context.item.site_id or ""
    row = (("site_id", site), ("dryer_id", "D1"))
    return Said("no chamber of the site is listed",
                "List the site's chamber in reference/dryers.csv, by any short name.",
                (), (Edit(APPEND, "reference/dryers.csv", row=row),), faults, True)  # fmt: skip


def of_lines(faults: tuple[Fault, ...], context: "Context", cause: str, todo: str) -> Said:
    """Advise on whole lines."""
    return Said(cause, todo, (), lines_out(faults, context), faults, False)


def required_words(fault: Fault, context: "Context") -> tuple[str, ...]:
    """Return the words of a fault's column."""
    spec = context.own.specs.get(fault.column or "")
    return (spec.vocabulary or ()) if spec else ()
