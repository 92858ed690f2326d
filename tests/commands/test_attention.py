"""The attention list as commands tell it."""

from pipeline.commands import attention

CHAMBER = {
    "item_id": "a" * 12, "severity": "result", "item_kind": "chamber", "site_id": "site-06",
    "subject": "D06-2", "words": "The chamber scatters.", "count": None, "out_of": None,
    "counted_words": None, "page": "chambers", "anchor": "dose-checks", "since_run": "1",
    "is_new": False,
}  # fmt: skip
HARM = CHAMBER | {
    "severity": "harm", "item_kind": "site_outcome", "site_id": "site-15",
    "subject": "normal_worsened", "words": "More aids stopped.", "count": 80, "out_of": 2_600,
    "counted_words": "aids", "is_new": True,
}  # fmt: skip


def test_an_item_says_where_and_how_many():
    assert attention.named_place(CHAMBER) == "site-06 D06-2"
    assert attention.named_place(HARM) == "site-15 80 of 2600 aids"
    assert attention.named_place(HARM, bare=True) == "site-15 80 of 2600"
    assert attention.named_place(HARM | {"site_id": None, "out_of": None}) == "80 aids"


def test_the_list_is_told_by_severity_and_says_what_is_new():
    lines = attention.told([CHAMBER, HARM])
    assert lines == [
        "Possible harm to aids that worked:",
        "  More aids stopped. At site-15 80 of 2600 aids. (new)",
        "Results to look into:",
        "  The chamber scatters. At site-06 D06-2.",
    ]
    assert attention.told([]) == []


def test_an_item_of_the_group_is_at_no_place():
    group = HARM | {"site_id": None, "subject": None}
    assert attention.told([group])[1] == "  More aids stopped. In all 80 of 2600 aids."
    assert attention.told([group, HARM | {"count": 90}])[1].count(" At ") == 1


def test_places_beyond_the_most_are_counted():
    many = [CHAMBER | {"subject": f"D{n}"} for n in range(attention.MOST_NAMED + 1)]
    assert attention.told(many)[1].endswith("site-06 D7 and 1 more.")
    assert "more" not in attention.told(many[:-1])[1]


def test_the_list_in_short_counts_every_severity():
    assert attention.counts([CHAMBER, HARM, CHAMBER]) == {
        "harm": 1, "safety": 0, "result": 2, "record": 0,
    }  # fmt: skip
    said = attention.in_short([CHAMBER, HARM, CHAMBER])
    assert said == '1 under "Possible harm to aids that worked", 2 under "Results to look into"'
