"""Contrast of text and marks, by the arithmetic of WCAG 2.2 (success criteria 1.4.3 and 1.4.11)."""

import re
from importlib import resources
from itertools import pairwise

import pytest

from reports import palette

CSS = resources.files("reports").joinpath("theme.css").read_text(encoding="utf-8")


def luminance(colour):
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def ratio(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def variables(block):
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))


LIGHT = variables(CSS.split("@media screen")[0])
DARK = variables(CSS.split("prefers-color-scheme: dark")[1].split("forced-colors")[0])


def test_arithmetic_agrees_with_the_standards_own_examples():
    # WCAG 2.2, definition of contrast ratio: black on white is 21:1; #777777 on white is 4.48:1.
    assert ratio("#000000", "#ffffff") == pytest.approx(21)
    assert ratio("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_plain_okabe_ito_hues_fail_on_white_and_ours_do_not():
    for hue in ("#e69f00", "#56b4e9", "#f0e442"):
        assert ratio(hue, "#ffffff") < 3


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_text_contrast(theme):
    for text in ("ink", "muted", "link"):
        for ground in ("paper", "soft", "note"):
            assert ratio(theme[text], theme[ground]) >= 4.5, (text, ground)
    for edge in ("edge", "note-edge"):
        assert ratio(theme[edge], theme["paper"]) >= 3, edge


def test_mark_contrast_on_paper_and_on_the_shaded_band():
    marks = [palette.INK, palette.MUTED, palette.BLUE, palette.ORANGE, palette.GREEN,
             palette.PURPLE, palette.GREY]  # fmt: skip
    for mark in marks:
        for ground in (palette.PAPER, palette.BAND):
            assert ratio(mark, ground) >= 3, (mark, ground)
            assert ratio(palette.DARK[mark], palette.DARK[ground]) >= 3, (mark, ground)


def test_theme_names_every_colour_of_the_palette_in_light_and_dark():
    assert set(palette.NAMES) == set(palette.DARK)
    for light, name in palette.NAMES.items():
        assert LIGHT[name] == light
        assert DARK[name] == palette.DARK[light]


def test_a_followed_site_can_be_read_on_its_ground():
    for theme in (LIGHT, DARK):
        for text in ("ink", "muted", "link", "orange"):
            assert ratio(theme[text], theme["chosen"]) >= 4.5, text
        for mark in ("blue", "orange", "green", "purple", "grey", "edge"):
            assert ratio(theme[mark], theme["chosen"]) >= 3, mark


def test_forced_colours_name_every_colour_of_the_page():
    block = CSS.split("forced-colors: active")[1].split("}")[0]
    assert set(re.findall(r"--([\w-]+):", block)) == set(LIGHT)
    assert not re.search(r"#[0-9a-f]{6}", block)


def test_sheets_name_the_same_colours():
    sheet = resources.files("reports").joinpath("sheet.css").read_text(encoding="utf-8")
    named = variables(sheet)
    assert {name: named.get(name) for name in palette.NAMES.values()} == {
        name: light for light, name in palette.NAMES.items()
    }


FORMS = resources.files("reports").joinpath("forms.css").read_text(encoding="utf-8")
SHADES = [
    variables(FORMS.split("@media")[0]),
    variables(FORMS.split("prefers-color-scheme: dark")[1].split("}")[0]),
]


@pytest.mark.parametrize("shades", SHADES, ids=["light", "dark"])
def test_words_on_every_shade_of_a_cell_can_be_read(shades):
    """Shades rise in steps that are told apart, and each cell has an outline of its own."""
    rules = dict(re.findall(r"\.(level_\d) \{ background: var\(--\w+\); color: var\(--([\w-]+)\)",
                            FORMS))  # fmt: skip
    assert sorted(rules) == [f"level_{at}" for at in range(5)]
    for level, ink in rules.items():
        assert ratio(shades[ink], shades[level]) >= 4.5, level
    light = [luminance(shades[f"level_{at}"]) for at in range(5)]
    assert light in (sorted(light), sorted(light, reverse=True))
    for one, other in pairwise(light):
        assert (max(one, other) + 0.05) / (min(one, other) + 0.05) >= 1.15
