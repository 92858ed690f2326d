"""An end at any moment: one plain line, no process left behind, no trace of any library.

Every state on disk survives kill -9, so that a run told to stop need not unwind: the main thread
does nothing but wait for signals, the work is done in another.
"""

import os
import signal
import sys
import threading
from collections.abc import Callable
from pathlib import Path

SIGNALS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
STOPPED = "drytally: stopped ({}); what was published stays as it was\n"
LOOK_S = 0.2
LEFT: set[Path] = set()
"""Files written aside that an end must remove."""


def run_stoppable(work: Callable[[], int], *, is_program: bool) -> int:
    """Do the work in a thread of its own and end the process at a signal.

    Args:
        work: returns an exit code.
        is_program: nothing follows but the interpreter's own end, during which signals end the
            process with that code, silently.
    """
    if threading.current_thread() is not threading.main_thread():
        return work()
    done: list[int | BaseException] = []

    def body() -> None:
        try:
            done.append(work())
        except BaseException as error:  # it is raised again where the caller waits
            done.append(error)

    before = {
        number: signal.signal(number, _end)
        for number in SIGNALS
        if signal.getsignal(number) != signal.SIG_IGN
    }
    try:
        worker = threading.Thread(target=body, name="drytally", daemon=True)
        worker.start()
        while worker.is_alive():
            worker.join(LOOK_S)
            for number in before:  # libraries put handlers of their own in its place
                signal.signal(number, _end)
    finally:
        for number, handler in before.items():
            signal.signal(number, _leave if is_program else handler)
    [outcome] = done
    if isinstance(outcome, BaseException):
        raise outcome
    return outcome


def _end(number: int, _frame: object) -> None:
    """Say that the work was stopped, end every process started for it, and this one."""
    try:
        sys.stdout.flush()
        os.write(2, STOPPED.format(signal.Signals(number).name).encode())
    except (OSError, ValueError):
        pass  # nobody listens any more
    for path in list(LEFT):
        path.unlink(missing_ok=True)
    _leave(number, _frame)


def _leave(_number: int, _frame: object) -> None:
    for _ in range(2):  # a process may just have been started
        for child in descendants(os.getpid()):
            try:
                os.kill(child, signal.SIGKILL)
            except OSError:
                continue
    os._exit(1)


def descendants(process: int) -> list[int]:
    """Return the processes that a process started, and those that they started (Linux)."""
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            fields = (entry / "stat").read_text(encoding="utf-8", errors="replace")
        except OSError:
            continue
        parent = int(fields.rpartition(")")[2].split()[1])
        parents.setdefault(parent, []).append(int(entry.name))
    found, waiting = [], [process]
    while waiting:
        own = parents.get(waiting.pop(), [])
        found += own
        waiting += own
    return found
