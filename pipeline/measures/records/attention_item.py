"""What somebody should look at: one list, by severity."""

import polars as pl

from pipeline.disclosure import attention
from pipeline.disclosure.rule import CountsPeopleBeside
from pipeline.measures.measure import ALL_ROWS, Measure, as_table
from pipeline.measures.records import attention_stopped
from pipeline.measures.records.attention_words import ITEMS, Told
from pipeline.settings import Settings
from schemas.measures.attention_item import AttentionItem

TELLING = {"severity": pl.String, "words": pl.String, "counted_words": pl.String, "page": pl.String,
           "anchor": pl.String}  # fmt: skip


def infer(counts: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Tell each item in words; `since_run` is filled when the warehouse is published.

    Args:
        counts: `attention_item`: item_id, item_kind, site_id, subject, word, count, out_of;
            `attention_cleaned`: cleaned-only aids by site.
        settings: when stopped aids are harm.

    Returns:
        The table attention_item.

    Raises:
        KeyError: where an item has no words.
    """
    found = attention_stopped.told(counts["attention_item"], counts["attention_cleaned"], settings)
    told = pl.DataFrame(
        [_told(*item) for item in found.select("item_kind", "subject", "word").rows()],
        schema=TELLING, orient="row",
    )  # fmt: skip
    frame = pl.concat([found.drop("word"), told], how="horizontal")
    return as_table(frame.with_columns(pl.lit(None, pl.String).alias("since_run")), AttentionItem)


def _told(kind: str, subject: str | None, word: str) -> tuple[str, str, str | None, str, str]:
    told = _of(kind, subject, word)
    return (
        told.severity, told.words.replace("{word}", word), told.counted, told.page, told.anchor,
    )  # fmt: skip


def _of(kind: str, subject: str | None, word: str) -> Told:
    for key in ((kind, word), (kind, subject or ""), (kind, "")):
        if key in ITEMS:
            return ITEMS[key]
    raise KeyError(f"{kind} {word}")


ATTENTION_ITEM = Measure(
    schema=AttentionItem,
    queries=("attention_item", "attention_cleaned"),
    infer=infer,
    analysis_sets=ALL_ROWS,
    disclosure=CountsPeopleBeside(attention.items, rests_on=attention.RESTS_ON),
    method="data-quality",
    label="What needs attention",
    needs=(
        "routine_drying_verdict",
        "site_comparison",
        "dryer_calibration",
        "data_quality",
    ),
    views=("working_outcome",),
)
