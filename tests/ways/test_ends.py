"""A run ends in each of its stages, by a kill or on a full disk, and the next one makes it good.

`python -m tests.ways --ends` ends it at every change of a file.
"""

from pathlib import Path

import pytest

from tests.ways.kills import Fault, told_plainly
from tests.ways.made import make

# Killed one after the other: each run first clears up after the one before.
KILLED = (
    "pipeline.store.merging.write_part", "pipeline.warehouse.publish.copy_published",
    "pipeline.warehouse.build._load_sessions", "pipeline.warehouse.measure.take_over",
    "pipeline.store.ledger.write", "pipeline.warehouse.publish.publish",
)  # fmt: skip
KILLED_PUBLISHED = ("pipeline.publishing.render_pages", "pipeline.publishing.write_kept")


def test_a_kill_or_a_full_disk_in_any_stage_is_made_good_by_the_next_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DRYTALLY_KEY_FILE", str(tmp_path / "conf" / "identifier.key"))
    fault = Fault(tmp_path, make(tmp_path / "made", rows=200))
    fault.start()
    for name in KILLED:
        assert fault.own.one("place", name)[0] == -9, name
        assert fault.night.digests() == fault.old, name
    for share in (0.1, 0.5):  # parts, and what follows them
        code, said = fault.own.one("full", round(share * fault.changes))
        assert code == 1
        told_plainly(code, said)
        fault.held()
    for name in KILLED_PUBLISHED:
        assert fault.own.one("place", name)[0] == -9, name
        assert fault.night.digests() == fault.new, name
    fault.made_good()
    fault.own.end()
