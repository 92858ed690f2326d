"""A published survival table, disguised as exports of drying sessions, through the whole line."""

from datetime import date, timedelta

import pytest

from tests.flows.line import ROW, Line, measure_only
from tests.statistics.test_survival import CHECKS

LAST = date(2026, 6, 30)


def aids():
    """Patients of the 6-MP trial as aids; a week of the trial is 30 days here.

    The treated are dead aids, the others weak ones. All return working; remission ends when the
    aid comes back with a problem, and follow-up ends at the site's last loaded day.
    """
    groups = {"6-MP": "dead", "control": "weak"}
    for group in CHECKS["six_mp"]["group"]:
        for at, (weeks, event) in enumerate(zip(group["weeks"], group["event"], strict=True)):
            yield groups[group["group"]], f"{group['group']}{at}", 30 * weeks, bool(event)


def exported():
    """Rows of the sessions export, by site file of a year."""
    rows = []
    for condition, name, days, has_failed in aids():
        begun = LAST - timedelta(days=days)
        visits = [(begun, condition)]
        if has_failed:
            visits.append((LAST, "weak"))
        for day, before in visits:
            rows.append(
                ROW
                | {
                    "session_id": f"{name} {day}", "device_id": name, "patient_id": name,
                    "started_at": f"{day}T09:{len(rows) % 60:02d}", "condition_before": before,
                    "condition_after_cleaning": before, "condition_after": "normal",
                }
            )  # fmt: skip
    # Another aid, working all along, so that the site's last loaded day is the last day.
    rows.append(
        ROW
        | {"session_id": "last", "device_id": "other", "patient_id": "other",
           "started_at": f"{LAST}T16:00", "condition_before": "normal",
           "condition_after_cleaning": "normal"}
    )  # fmt: skip
    return rows


def test_the_six_mp_table_comes_out_of_the_line(tmp_path, capsys, monkeypatch):
    measure_only(monkeypatch, "time_to_failure")
    line = Line(tmp_path)
    line.write("site-a/sessions_all.csv", exported())
    line.refresh(capsys)
    rows = line.ask(
        "SELECT condition_before, days, n, share_failed, low, high FROM time_to_failure"
        " WHERE grouping = 'all' AND basis = 'site_end'"
    )
    found = {(condition, days): rest for condition, days, *rest in rows}
    for condition, group in zip(("dead", "weak"), CHECKS["six_mp"]["group"], strict=True):
        for week, survival in zip(group["event_weeks"], group["survival"], strict=True):
            n, share, low, high = found[condition, 30 * week]
            assert n == 21
            assert 1 - share == pytest.approx(survival, abs=1e-6)
            if survival:
                assert low < share < high
    # The median of the controls, and its limits, read from the log-log limits of the curve.
    control = CHECKS["six_mp"]["group"][1]
    weak = sorted((days // 30, *rest) for (condition, days), rest in found.items()
                  if condition == "weak")  # fmt: skip
    assert next(week for week, _, share, *_ in weak if share >= 0.5) == control["median"]
    assert (
        next(week for week, *_, high in weak if high and high >= 0.5)
        == (control["median_limits"][0])
    )
    assert (
        next(week for week, _, _, low, _ in weak if low and low >= 0.5)
        == (control["median_limits"][1])
    )
