"""A drawing is taken over where its specification and the code that draws are the same."""

from pathlib import Path
from typing import Any

import pytest
import vl_convert

from pipeline.store.drawings import read_kept, write_kept
from pipeline.store.layout import Store
from reports import drawing
from reports.drawing import kept_drawings, static_svg


def spec(value: float) -> dict[str, object]:
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "data": {"values": [{"a": value, "b": 1}]},
        "mark": "point",
        "encoding": {"x": {"field": "a", "type": "quantitative"},
                     "y": {"field": "b", "type": "quantitative"}},
    }  # fmt: skip


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Take down every specification that is drawn."""
    seen: list[str] = []
    real = vl_convert.vegalite_to_svg

    def counted(text: str) -> str:
        seen.append(text)
        return real(text)

    monkeypatch.setattr(vl_convert, "vegalite_to_svg", counted)
    return seen


def made(store: Store, *values: float) -> list[str]:
    """Draw as a run of its own does, and keep what it used."""
    drawing._drawn.cache_clear()
    used: dict[str, Any] = {}
    with kept_drawings(read_kept(store).get("drawings", {}), used):
        found = [static_svg(spec(value)) for value in values]
    write_kept(store, {"drawings": used})
    return found


def test_only_what_changed_is_drawn_again(tmp_path: Path, drawn: list[str]) -> None:
    store = Store(tmp_path)
    first = made(store, 1, 2)
    assert len(drawn) == 2
    assert made(store, 1, 2) == first
    assert len(drawn) == 2
    assert made(store, 1, 3)[0] == first[0]
    assert len(drawn) == 3
    # What the last run did not use is not kept.
    assert len(read_kept(store)["drawings"]) == 2
    made(store, 2)
    assert len(drawn) == 4


def test_drawings_of_other_code_or_in_a_damaged_file_do_not_count(
    tmp_path: Path, drawn: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    store = Store(tmp_path)
    first = made(store, 1)
    monkeypatch.setattr(drawing, "_maker", lambda: "another version")
    assert made(store, 1) == first
    assert len(drawn) == 2
    for text in (b"", b"no drawing", store.drawings.read_bytes()[:-5]):
        store.drawings.write_bytes(text)
        assert made(store, 1) == first
    assert len(drawn) == 5


def test_without_a_store_nothing_is_kept(drawn: list[str]) -> None:
    drawing._drawn.cache_clear()
    static_svg(spec(1))
    drawing._drawn.cache_clear()
    static_svg(spec(1))
    assert len(drawn) == 2
