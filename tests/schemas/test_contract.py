"""The contract's hash follows what judges rows, and nothing that is only said."""

import pandera.polars as pa
import polars as pl
import pytest

from pipeline.intake.changes import intake_fingerprint, is_unchanged, stamps
from pipeline.store.ledger import Ledger
from schemas import contract, digests
from schemas.declare import Table, column, holds, rule
from schemas.meaning import Words
from schemas.version import CONTRACT_VERSION, READING

WET = Words({"wet": "Water was seen.", "dry": "None was seen."})


class Plain(Table):
    """One row per load. Key: a."""

    a: float = column("A reading.", unit="µL", le=9, resolution=0.1)
    b: str = column("How wet.", vocabulary=WET)

    @rule("a wet load has a reading", refuses=("b",), advice="look it up")
    def wet_is_read(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805
        return holds(data, (pl.col("b") != "wet") | pl.col("a").is_not_null())


class SaidOtherwise(Table):
    """The same, told in other words. Key: a."""

    a: float = column("What the chamber read.", unit="µL", le=9, resolution=0.1)
    b: str = column("Wet or dry.", vocabulary=WET)

    @rule("water that was seen was read", refuses=("b",), advice="ask the bench", cause="haste")
    def wet_is_read(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805
        """Say the same in a docstring."""
        return holds(data, (pl.col("b") != "wet") | pl.col("a").is_not_null())


class HigherEnd(Plain):
    """Another range. Key: a."""

    a: float = column("A reading.", unit="µL", le=10, resolution=0.1)


class FewerWords(Plain):
    """Another list. Key: a."""

    b: str = column("How wet.", vocabulary=WET.only("wet"))


class OtherRule(Table):
    """Another rule under the same name. Key: a."""

    a: float = column("A reading.", unit="µL", le=9, resolution=0.1)
    b: str = column("How wet.", vocabulary=WET)

    @rule("a wet load has a reading", refuses=("b",), advice="look it up")
    def wet_is_read(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805
        return holds(data, (pl.col("b") != "wet") | (pl.col("a") > 0))


def test_what_is_only_said_changes_nothing() -> None:
    assert contract.lines_of("t", Plain) == contract.lines_of("t", SaidOtherwise)


@pytest.mark.parametrize(
    ("other", "what"), [(HigherEnd, "a"), (FewerWords, "b"), (OtherRule, "wet_is_read")]
)
def test_what_judges_a_row_changes_the_contract(other: type[Table], what: str) -> None:
    own, changed = (
        next(line for line in contract.lines_of("t", model) if line.startswith(f"('{what}'"))
        for model in (Plain, other)
    )
    assert own != changed


def test_files_are_screened_again_under_another_contract(monkeypatch: pytest.MonkeyPatch) -> None:
    assert f"{READING}.{digests.CONTRACT}" == CONTRACT_VERSION
    assert contract.digest() == digests.CONTRACT
    own = intake_fingerprint("Europe/Paris", "k", False, "")
    ledger = Ledger("run", 1, "2026-01-01", contract_version=CONTRACT_VERSION, seen=stamps([]))
    assert is_unchanged([], ledger, ledger.settings_digest)
    monkeypatch.setattr("pipeline.intake.changes.CONTRACT_VERSION", f"{READING}.other")
    assert intake_fingerprint("Europe/Paris", "k", False, "") != own
    assert not is_unchanged([], ledger, ledger.settings_digest)
