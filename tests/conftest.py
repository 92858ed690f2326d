"""What several folders of tests share: the demo, made once a run of the suite."""

import fcntl
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as every command does, before numpy is loaded


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the demo's `store` and `dashboards`; read it, never write to it.

    Made by the first worker that asks for it, whichever that is: it takes half a minute.
    """
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    folder = shared / "demo"
    with (shared / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "dashboards" / "index.html").exists():
            made = subprocess.run(
                [sys.executable, "-m", "pipeline.commands.main", "demo", "--plain",
                 "--into", str(folder)],
                cwd=ROOT, capture_output=True, text=True, check=False,
            )  # fmt: skip
            assert made.returncode == 0, made.stderr
            assert "Could not be made" not in made.stdout, made.stdout
    return folder
