"""A reading is set against its peers only where the aid is of their kind and the chamber fit."""

import pytest

from pipeline import one_reading
from pipeline.one_reading import refusals
from reports.sheets.handout import CARE
from schemas import vocabulary
from tests.reports.made_up_sheets import AID

FIT = AID | {
    "is_alone": True, "is_complete": True, "is_below_detection": False,
    "moisture_per_aid_ul": 2.4, "moisture_limit_per_aid_ul": 0.5,
}  # fmt: skip


def test_an_aid_of_its_peers_kind_is_compared():
    assert refusals([FIT]) == []
    assert refusals([FIT | {"is_below_detection": True, "moisture_per_aid_ul": None}]) == []


@pytest.mark.parametrize(
    ("standing", "says"),
    [
        ("out_of_tolerance", "out of tolerance"), ("scattering", "scattered"),
        ("drifting", "drifting"), ("misreading", "misread"), ("never_checked", "not yet been"),
        (None, "names no chamber"),
        ("in_tolerance", None), ("correctable", None), ("overdue", None), ("retest", None),
        ("too_few_checks", None),
    ],
)  # fmt: skip
def test_an_unfit_chamber_is_told(standing, says):
    found = refusals([FIT | {"standing": standing}])
    assert len(found) == (says is not None)
    assert says is None or says in found[0]


def test_every_standing_is_either_refused_or_told_or_sound():

    known = {*one_reading.STANDING, *CARE, "in_tolerance", "correctable"}
    assert set(vocabulary.STANDING) <= known


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"condition_before_drying": "dead"}, "did not work before drying"),
        ({"condition_after": "weak"}, "does not work after drying"),
        ({"condition_after": None}, "not assessed"),
        ({"exposure": "immersion"}, "exposed: immersion"),
        ({"exposure": "unknown"}, "not recorded"),
        ({"exposure": None}, "not recorded"),
        ({"visit_reason": "water_incident"}, "in a water incident"),
        ({"is_alone": False}, "not alone"),
        ({"is_complete": False}, "not alone"),
        ({"moisture_per_aid_ul": None}, "no usable"),
        ({"is_below_detection": True, "moisture_limit_per_aid_ul": None}, "no usable"),
    ],
)
def test_an_aid_unlike_its_peers_is_told(changes, says):
    (found,) = refusals([FIT | changes])
    assert says in found


def test_every_reason_is_told():
    worst = FIT | {"condition_before_drying": "dead", "condition_after": "dead",
                   "exposure": "splash", "standing": "drifting", "is_alone": False,
                   "moisture_per_aid_ul": None}  # fmt: skip
    assert len(refusals([worst])) == 6
    assert one_reading.NOT_ALONE in refusals([FIT, FIT])
