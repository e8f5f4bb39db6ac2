"""Much of the same work at once: processes of one thread each, as many as there are cores.

Takes a function and items, both of which can be pickled; gives the answers in the order of the items. Every process
begins with an empty memory (spawn): a copy of one that has threads could stand still for ever.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import active_children, get_context
from typing import TypeVar

Item = TypeVar("Item")
Answer = TypeVar("Answer")


def in_processes(
    work: Callable[[Item], Answer], items: Sequence[Item], lost: Callable[[Item], Answer]
) -> Generator[Answer]:
    """What `work` answers to each item, in their order, each as soon as it and those before it are there.

    Where a process is killed (want of memory, say), `lost` answers for all items that were not done by then. Closing
    the generator, or an interrupt, ends the processes at once. Raises what `work` raises.
    """
    others = set(active_children())
    workers = max(1, min(os.cpu_count() or 1, len(items)))
    with ProcessPoolExecutor(workers, get_context("spawn"), _one_thread) as pool:
        try:
            with _interrupt_waits():
                answers = [pool.submit(work, item) for item in items]
            for item, answer in zip(items, answers, strict=True):
                try:
                    found = answer.result()
                except BrokenProcessPool:
                    found = lost(item)
                yield found
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            for process in set(active_children()) - others:
                process.terminate()
            raise


@contextmanager
def _interrupt_waits() -> Iterator[None]:
    """Ctrl-C comes when this is over. Processes that begin here never get it: they end when their parent says so."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _one_thread() -> None:
    """Before anything loads numpy in a new process: no threads in it, for the others have the cores."""
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    from framevis import equilibrium

    equilibrium.cores = 1
