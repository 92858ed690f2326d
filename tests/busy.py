"""Whether a test may promise a time."""

import os


def is_busy() -> bool:
    """Tell whether other work holds the processors: then no time is promised."""
    return os.getloadavg()[0] > (os.cpu_count() or 1)
