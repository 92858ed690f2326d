"""Layers are put together as Altair's own function puts them."""

import altair as alt
import pytest

from reports import layers, pages
from reports.dashboards.declared import DASHBOARDS
from reports.levels import with_level
from tests.reports import made_up

OWN = {"config", "datasets"}


@pytest.fixture
def compared(monkeypatch):
    """Compare every specification that is made with that of `altair.layer`."""
    seen = []
    real = layers.layered

    def both(parts, width, height, config, records=None):
        mine = real(parts, width, height, config, records)
        theirs = alt.layer(*parts, width=width, height=height).to_dict(validate=False)
        datasets = theirs.get("datasets", {}) | ({} if records is None else {"rows": records})
        assert mine.get("datasets", {}) == datasets
        for spec in (mine, theirs):
            assert spec["$schema"] == alt.SCHEMA_URL
        assert {k: v for k, v in mine.items() if k not in OWN} == {
            k: v for k, v in theirs.items() if k not in OWN
        }
        seen.append(mine)
        return mine

    for name in ("charts", "curves", "funnels", "signals"):
        monkeypatch.setattr(f"reports.{name}.layered", both)
    return seen


def test_layers_are_those_of_altair(compared):
    frames = with_level(made_up.frames(), made_up.SETTINGS)
    for page in DASHBOARDS:
        for section in page.sections:
            for rule in section.figures:
                rule(frames)
    assert len(compared) > 50
    assert {len(spec["layer"]) == 1 for spec in compared} == {True, False}


def test_pages_are_imported_without_altair():
    assert "alt" not in vars(pages)
