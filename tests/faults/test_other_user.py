"""An ordinary user: what may not be read is refused alone, a store not theirs before work.

The suite may run as root, who may read and write everything: a child gives its rights up once a
rehearsal has imported all that the program needs.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.flows.line import Line, sessions

ROOT = Path(__file__).parents[2]
USER = 12345
DROPS_RIGHTS = f"""
import contextlib, io, os, sys
from pipeline import publishing
from pipeline.commands.main import main
publishing.MEASURE_NAMES = ()
exports, store, rehearsal, *more = sys.argv[1:]
if os.geteuid() == 0:
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        main(["refresh", exports, "--store", rehearsal, *more])
    for folder, _, files in os.walk(os.path.dirname(os.environ["DRYTALLY_KEY_FILE"])):
        for name in files:  # the key was made in the rehearsal
            os.chown(os.path.join(folder, name), {USER}, {USER})
    os.setgroups([])
    os.setgid({USER})
    os.setuid({USER})
sys.exit(main(["refresh", exports, "--store", store, *more]))
"""


@pytest.fixture
def line() -> Iterator[Line]:
    """A line in a folder that other users may enter, its key and store the user's own."""
    folder = Path(tempfile.mkdtemp(prefix="other user "))
    made = Line(folder)
    made.write("site-a/sessions_2026-01.csv", sessions(12))
    made.write("site-a/sessions_2026-02.csv", sessions(3, started_at="2026-02-01T09:00"))
    for name in ("conf", "store"):
        (folder / name).mkdir(mode=0o700)
    if os.geteuid() == 0:
        for path in (folder, *folder.rglob("*")):
            os.chown(path, USER, USER)
    yield made
    shutil.rmtree(folder)


def refresh(line: Line) -> subprocess.CompletedProcess[str]:
    key = line.store.parent / "conf" / "identifier.key"
    return subprocess.run(
        [sys.executable, "-c", DROPS_RIGHTS, str(line.exports), str(line.store),
         tempfile.mkdtemp(dir=line.store.parent), "--plain", "--as-of", "2026-07-01"],
        cwd=ROOT, capture_output=True, text=True, check=False,
        env=os.environ | {"DRYTALLY_KEY_FILE": str(key), "HOME": str(line.store.parent)},
    )  # fmt: skip


def test_a_file_that_may_not_be_read_is_refused_alone(line: Line) -> None:
    closed = line.exports / "site-a" / "sessions_2026-02.csv"
    closed.chmod(0)
    said = refresh(line)
    assert said.returncode == 3, said.stderr
    assert "1 refused" in said.stdout
    assert "site-a/sessions_2026-02.csv: it cannot be opened (Permission denied)" in said.stdout
    assert line.ask("SELECT count(*) FROM session_aid") == [(12,)]
    assert "Traceback" not in said.stderr


def test_a_store_that_may_not_be_written_is_told_before_work(line: Line) -> None:
    assert refresh(line).returncode in {0, 3}
    before = (line.store / "warehouse.duckdb").read_bytes()
    line.write("site-a/sessions_2026-03.csv", sessions(4, started_at="2026-03-01T09:00"))
    for path in (line.store, *line.store.rglob("*")):
        path.chmod(0o500 if path.is_dir() else 0o400)
    said = refresh(line)
    for path in (line.store, *line.store.rglob("*")):
        path.chmod(0o700 if path.is_dir() else 0o600)
    assert said.returncode == 1
    assert "read-only" in said.stderr or "cannot be prepared" in said.stderr
    assert "Nothing was read or changed." in said.stderr
    assert "Traceback" not in said.stderr
    assert (line.store / "warehouse.duckdb").read_bytes() == before
