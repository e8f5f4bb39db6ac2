"""As the command does: no BLAS threads, which only get in the way of the batches of states."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # the commands that tests run would be compiled anew each time
