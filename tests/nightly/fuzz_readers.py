"""Every reader against 20,000 cases and more: `python tests/nightly/fuzz_readers.py [CASES]`, not part of the test run.

Runs the fuzz tests of the readers with as many more examples as it takes, the seed a new one each time (hypothesis
prints how to repeat a case that fails). Each case must end in a frame, readings, or sentences, in less than two
seconds of the processor; files of 100 MB in less than 1 GB.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
FILES = ("reading/test_reading_fuzz.py", "importing/test_import_fuzz.py")
USUAL = 740  # examples of test_reading_fuzz.py in the test run


def main() -> int:
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    environment = os.environ | {"FRAMEVIS_FUZZ_TIMES": str(max(1.0, cases / USUAL)), "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "pytest", "-q", *(str(TESTS / file) for file in FILES), "--durations=5"]
    return subprocess.run(command, check=False, env=environment).returncode


if __name__ == "__main__":
    sys.exit(main())
