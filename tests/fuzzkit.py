"""How many cases a fuzz test tries, and what every reader must keep to: no case takes long."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager

TIMES = float(os.environ.get("FRAMEVIS_FUZZ_TIMES", "1"))  # of the usual number: see tests/nightly
MOST_SECONDS = 6.0  # two on a quiet machine; processor time too gets long where others crowd the caches


def cases(usual: int) -> int:
    return max(1, round(usual * TIMES))


@contextmanager
def soon() -> Iterator[None]:
    """Fails where the work inside runs away: what takes no time takes no six seconds of a process either."""
    start = time.process_time()
    yield
    assert time.process_time() - start < MOST_SECONDS
