"""The dictionary page and the methods page say of each measure what its record says."""

import re

import polars as pl

from pipeline.measures.catalogue import MEASURES
from pipeline.publishing import described
from reports.described import by_method, tables
from reports.methods.catalogue import ANCHORS
from reports.pages import page_texts
from tests.reports import made_up


def test_a_measure_is_called_and_explained_as_its_record_says():
    frames = made_up.frames() | {"dictionary": described()}
    texts = page_texts(frames, made_up.RUN, made_up.SETTINGS, settings_changed={})
    for measure in MEASURES:
        section = texts["dictionary.html"].split(f'<h2 id="t-{measure.name}">')[1]
        section = section.split("</section>")[0]
        assert f"{measure.label}." in section
        assert f'href="methods.html#{measure.method}"' in section
        told = texts["methods.html"].split(f'<h2 id="{measure.method}">')[1].split("</section>")[0]
        assert f'{measure.label} (<a href="dictionary.html#t-{measure.name}">' in told
    links = set(re.findall(r'href="dictionary.html#(t-\w+)"', texts["methods.html"]))
    assert len(links) == len(MEASURES)
    assert links <= set(re.findall(r'id="(t-\w+)"', texts["dictionary.html"]))


def test_other_tables_have_no_section_and_no_label():
    told = {table["name"]: (table["label"], table["method"]) for table in tables(made_up.frames())}
    assert told == {"rescue_rate": ("Rescue rates", "rescue-rates"), "site": ("", "")}
    assert by_method({}) == {}
    bare = pl.DataFrame(made_up.frames()["dictionary"].drop("label", "method"))
    assert by_method({"dictionary": bare}) == {}
    assert {measure.method for measure in MEASURES} <= set(ANCHORS)
