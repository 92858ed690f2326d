"""The key hides identifiers and decides nothing else: with another one the figures are the same."""

from pathlib import Path

import pytest

from tests.flows.line import ROW, Line, measure_only


@pytest.mark.parametrize("key", range(5))
def test_two_sessions_of_an_aid_at_one_time_stand_in_the_order_of_their_lines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], key: int
) -> None:
    """Half of all keys would put the second session first, if their hashed ids decided."""
    file = tmp_path / "conf" / "identifier.key"
    file.parent.mkdir(mode=0o700)
    file.write_text(f"{key:064x}\n", encoding="utf-8")
    file.chmod(0o600)
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(file))
    measure_only(monkeypatch)
    line = Line(tmp_path)
    line.write("site-a/sessions_2026-03.csv", [
        ROW | {"session_id": name, "started_at": "2026-03-10", "condition_after": after,
               "disposition": "kept_for_redrying"}
        for name, after in (("S1", "dead"), ("S2", "weak"), ("S3", "normal"))
    ])  # fmt: skip
    line.refresh(capsys)
    found = line.ask("SELECT line, cycle_number, condition_after FROM session_aid ORDER BY line")
    assert found == [(2, 1, "dead"), (3, 2, "weak"), (4, 3, "normal")]
