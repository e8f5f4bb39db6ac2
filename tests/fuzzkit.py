"""How many cases a fuzz test tries, and what every reader must keep to: no case takes long."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager

TIMES = float(os.environ.get("FRAMEVIS_FUZZ_TIMES", "1"))  # of the usual number: see tests/nightly
MOST_SECONDS = 2.0


def cases(usual: int) -> int:
    return max(1, round(usual * TIMES))


@contextmanager
def soon() -> Iterator[None]:
    """Fails where the work inside takes more than two seconds of this process, however busy the machine is."""
    start = time.process_time()
    yield
    assert time.process_time() - start < MOST_SECONDS
