"""The published p chart disguised as exports: thirty months of fifty aids, the whole line."""

import tomllib
from pathlib import Path

import pytest

from tests.flows.line import ROW, Line, measure_only

P_CHART = tomllib.loads((Path(__file__).parents[1] / "checks" / "judgements.toml").read_text())[
    "p_chart"
]


def exports():
    """A sample a month: the cans that leaked are the dead aids that sound again."""
    rows = []
    for at, leaking in enumerate(P_CHART["count"]):
        for n in range(P_CHART["n"]):
            name = f"{at}-{n}"
            rows.append(ROW | {
                "session_id": f"S{name}", "device_id": f"A{name}", "patient_id": f"W{name}",
                "started_at": f"{2024 + at // 12}-{at % 12 + 1:02d}-{1 + n % 28:02d}"
                              f"T{8 + n // 28:02d}:{n:02d}",
                "condition_after": "normal" if n < leaking else "dead",
            })  # fmt: skip
    return rows


def test_published_signals_and_no_others(tmp_path, capsys, monkeypatch):
    measure_only(monkeypatch, "monthly_trend")
    line = Line(tmp_path)
    line.write("site-a/sessions_2024-01.csv", exports())
    line.store.mkdir(parents=True)
    (line.store / "drytally.toml").write_text("trend_baseline_months = 30\n")
    code, _ = line.refresh(capsys)
    assert code == 0
    rows = line.ask(
        "SELECT n, counted, centre, rule, limits FROM monthly_trend"
        " WHERE series = 'dead_sounds_again' AND site_id = 'site-a' ORDER BY month"
    )
    assert [row[:2] for row in rows] == [(50, count) for count in P_CHART["count"]]
    assert rows[0][2] == pytest.approx(P_CHART["centre"], abs=5e-5)
    assert [at for at, row in enumerate(rows, start=1) if row[3]] == P_CHART["outside"]
    assert {row[3] for row in rows if row[3]} == {"beyond_limits"}
    assert {row[4] for row in rows} == {"binomial"}
