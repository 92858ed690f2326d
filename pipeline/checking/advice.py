"""What to do about a file's faults: by how often each stands there, and by whether it can be right.

A single slip is corrected in its cell; what stands in many cells is said once in the mapping,
after a trial; what no unit makes possible is looked up; a person's details leave the export.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pipeline.checking import cell_advice, word_advice
from pipeline.checking.edits import Edit
from pipeline.checking.faults import Fault, Own
from pipeline.checking.proof import Proof
from pipeline.checking.shown import looks_personal
from pipeline.intake.find import FoundFile
from schemas.rules import Kind


@dataclass(frozen=True)
class Advice:
    """What to do about one kind of fault, and the change that does it.

    Attributes:
        cause: the likely cause.
        todo: what to do, in a sentence.
        allowed: the words that may stand there; empty where they are no list.
        edits: the change, one a fault where single cells are corrected.
        faults: the faults that it answers.
        is_pattern: one change answers many rows.
    """

    cause: str
    todo: str
    allowed: tuple[str, ...]
    edits: tuple[Edit, ...]
    faults: tuple[Fault, ...]
    is_pattern: bool


@dataclass(frozen=True)
class Context:
    """What advice may rest on.

    Attributes:
        item: the file.
        own: its own columns and cells.
        proof: trials of the mapping.
        chambers: chambers listed at the site.
        models: models listed.
    """

    item: FoundFile
    own: Own
    proof: Proof
    chambers: tuple[str, ...]
    models: tuple[str, ...]

    @property
    def section(self) -> str:
        """The name of the mapping's section that the file falls under."""
        return self.item.section.name if self.item.section else self.item.table_name or ""

    @property
    def mapping(self) -> str:
        """The site's mapping, as messages name it."""
        return f"{self.item.site_id or 'reference'}/mapping.toml"


def advise(faults: Sequence[Fault], context: Context) -> list[Advice]:
    """Return advice on every fault of one file, that which answers most faults first."""
    groups: dict[tuple[str, ...], list[Fault]] = defaultdict(list)
    for fault in faults:
        groups[_alike(fault)].append(fault)
    made = [one for group in groups.values() for one in _of_group(tuple(group), context)]
    return sorted(made, key=lambda a: (-len(a.faults), a.faults[0].line, a.todo))


def _alike(fault: Fault) -> tuple[str, ...]:
    """Return what tells the faults that one piece of advice may answer."""
    more = ""
    raw = (fault.raw or "").strip().lower()
    if fault.kind is Kind.WORD:
        more = "\0personal" if looks_personal(fault.raw or "") else raw
    elif fault.kind in {Kind.CHAMBER, Kind.MODEL, Kind.TRUTH}:
        more = raw
    elif fault.kind in {Kind.NUMBER, Kind.FORM, Kind.DAY, Kind.MOMENT}:
        more = cell_advice.form_of(fault.raw)
        if more in cell_advice.BY_VALUE:
            more = raw
    return str(fault.kind), fault.column or "", fault.rule, more


def _of_group(faults: tuple[Fault, ...], context: Context) -> Iterator[Advice]:
    kind = faults[0].kind
    maker = {
        Kind.WORD: word_advice.of_word,
        Kind.TRUTH: word_advice.of_truth,
        Kind.PERSONAL: word_advice.of_person,
        Kind.CHAMBER: word_advice.of_chamber,
        Kind.NO_CHAMBER: word_advice.of_no_chamber,
        Kind.NUMBER: cell_advice.of_number,
        Kind.FORM: cell_advice.of_number,
        Kind.RANGE: cell_advice.of_range,
        Kind.DAY: cell_advice.of_day,
        Kind.MOMENT: cell_advice.of_day,
    }.get(kind, cell_advice.of_rest)
    yield Advice(*maker(faults, context))
