"""Published readings and a misreading chamber, disguised as exports and sent through the line."""

import tomllib
from pathlib import Path

import pytest

from tests.flows.line import Line, measure_only, sessions

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "measures.toml").read_text())
MEDIAN = (
    "SELECT n, below_detection, median_ul, left_out_uncalibrated FROM moisture_distribution"
    " WHERE grouping = 'all' AND aids_in_chamber = 1 AND basis = 'corrected'"
)


@pytest.fixture(autouse=True)
def distribution_only(monkeypatch: pytest.MonkeyPatch) -> None:
    measure_only(monkeypatch, "moisture_distribution")


def checks(dryer: str, factor: float = 1.0) -> list[dict[str, str]]:
    """Blank, 5 and 20 µL on each of six days before the sessions."""
    return [
        {"site_id": "site-a", "dryer_id": dryer, "checked_at": f"2025-12-{day:02d}T09:00",
         "dose_ul": str(dose), "reading_ul": f"{factor * dose:.2f}", "replicate": str(dose)}
        for day in (14, 17, 20, 22, 26, 29) for dose in (5, 20)
    ] + [
        {"site_id": "site-a", "dryer_id": dryer, "checked_at": f"2025-12-{day:02d}T10:00",
         "dose_ul": "0", "reading_ul": "0", "replicate": "1"}
        for day in (14, 17, 20, 22, 26, 29)
    ]  # fmt: skip


def test_arsenic_of_oahu_keeps_its_bounds(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    # Chambers with limits 0.9, 1 and 2 read the values below them, a fourth of 0.4 the others.
    oahu = CHECKS["oahu"]
    line = Line(tmp_path)
    limits = {"D1": "0.9", "D2": "1", "D3": "2", "D4": "0.4"}
    of = {0.9: "D1", 1.0: "D2", 2.0: "D3"}
    line.write("reference/dryers.csv", [
        {"site_id": "site-a", "dryer_id": name, "detection_limit_ul": limit}
        for name, limit in limits.items()
    ])  # fmt: skip
    line.write("site-a/dose_checks_2025.csv", [row for d in limits for row in checks(d)])
    rows = [
        row | {"dryer_id": of[value] if below else "D4",
               "moisture_ul": "0.1" if below else str(value)}
        for row, value, below in zip(
            sessions(24), oahu["value"], oahu["below"], strict=True
        )
    ]  # fmt: skip
    line.write("site-a/sessions_2026-01.csv", rows)
    assert line.refresh(capsys)[0] in {0, 3}
    assert line.ask(MEDIAN) == [(24, 13, None, 0)]
    # More than half lie below a limit: the median may be anything under 1.0, the 12th of 24 with
    # each at its limit. The 18th is .7 with those at 0 and 2.0 with them at their limits.
    found = line.ask(
        "SELECT median_state, median_bound_low_ul, median_bound_high_ul, p75_state,"
        " p75_bound_low_ul, p75_bound_high_ul FROM moisture_distribution"
        " WHERE grouping = 'all' AND aids_in_chamber = 1 AND basis = 'corrected'"
    )
    assert found == [("below_limit", 0.0, 1.0, "not_estimable", 0.7, 2.0)]


def test_a_chamber_a_quarter_low_is_corrected_and_an_unchecked_one_left_out(
    tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    true = [round(1.5 + 0.17 * at, 2) for at in range(60)]
    found = {}
    for name, factor in (("right", 1.0), ("low", 0.75)):
        line = Line(tmp_path / name)
        line.write("reference/dryers.csv", [
            {"site_id": "site-a", "dryer_id": d, "detection_limit_ul": "0.1"} for d in ("D1", "D2")
        ])  # fmt: skip
        line.write("site-a/dose_checks_2025.csv", checks("D1", factor))
        rows = [
            row | {"dryer_id": "D1", "moisture_ul": f"{factor * value:.2f}"}
            for row, value in zip(sessions(60), true, strict=True)
        ] + [
            row | {"dryer_id": "D2", "moisture_ul": "90", "session_id": f"U{at}",
                   "device_id": f"B{at}", "patient_id": f"V{at}"}
            for at, row in enumerate(sessions(7))
        ]  # fmt: skip
        line.write("site-a/sessions_2026-01.csv", rows)
        assert line.refresh(capsys)[0] in {0, 3}
        found[name] = line.ask(MEDIAN)[0]
        assert line.ask("SELECT DISTINCT climate_group FROM session") == [("climate not given",)]
    for n, _, _, left_out in found.values():
        assert (n, left_out) == (60, 7)
    assert found["low"][2] == pytest.approx(found["right"][2], rel=0.03)
    assert found["right"][2] == pytest.approx(sorted(true)[29], rel=0.01)
