"""Advice about the mapping is tried before it is given: does the file have fewer faults with it?"""

from dataclasses import dataclass, field, replace
from pathlib import Path

from pipeline.checking.faults import work_of
from pipeline.errors import DrytallyError
from pipeline.intake.find import FoundFile
from pipeline.intake.mapping import MAPPING, parse_mapping
from pipeline.intake.mapping_check import check_section
from pipeline.intake.mapping_edit import Value, with_key
from pipeline.screening.batch import screen_work
from pipeline.screening.reading import model_of
from schemas.exports.catalogue import EXPORTS, columns_of

LARGEST, MOST_TRIALS = 8 * 1024**2, 24
REFUSED = 10**9


@dataclass
class Proof:
    """One file and its site's mapping, to try changes of the mapping on.

    Attributes:
        item: the file.
        zones: time zone by site.
        text: the mapping as it is, empty where there is none.
    """

    item: FoundFile
    zones: dict[str, str]
    text: str = ""
    known: dict[str, int] = field(default_factory=dict)

    def can_try(self) -> bool:
        """Tell whether the file is small enough to be screened again and again."""
        return self.item.bytes <= LARGEST and len(self.known) < MOST_TRIALS

    def with_key(self, path: tuple[str, ...], value: Value) -> str | None:
        """Return the mapping with one key set, None where it has no place for it."""
        try:
            return with_key(self.text, path, value)
        except ValueError:
            return None

    def faults(self, text: str) -> int:
        """Count the faults that screening finds under a mapping; a refused file has countless."""
        if text not in self.known:
            self.known[text] = self._faults(text)
        return self.known[text]

    def _faults(self, text: str) -> int:
        try:
            mapping = parse_mapping(text, MAPPING, tuple(EXPORTS))
            section = mapping.section_of(self.file_name, tuple(EXPORTS))
            if section is None:
                return REFUSED
            check_section(section, columns_of(model_of(section.table)))
        except DrytallyError:
            return REFUSED
        work = work_of(replace(self.item, section=section, table_name=section.table))
        results, out = screen_work([work], key=bytes(32), zones=self.zones, link_wearers=False)
        if out is None or results["checked"].refusal:
            return REFUSED
        return out.quarantined.height + out.refused.height

    @property
    def file_name(self) -> str:
        """The file's own name, or the member's of a zip."""
        return Path(self.item.member or self.item.path).name

    def is_better(self, path: tuple[str, ...], value: Value) -> bool:
        """Tell whether the file has fewer faults once one key is set; never where it is refused."""
        text = self.with_key(path, value)
        if text is None:
            return False
        if not self.can_try():
            return True
        return self.faults(text) < self.faults(self.text or "")
