"""`framevis assess` in this process, with stations as near as is asked for; prints its peak memory as JSON.

Without a folder only what the command needs is imported: the constant start. A program of its own, so that the memory
is its own: VmHWM of Linux, as the peak of `getrusage` would count what the caller had before it started this.

python tests/benchmarks/assess_peak.py SPACING_MM [FOLDER DRAWS]
"""

from __future__ import annotations

import io
import json
import sys
from contextlib import redirect_stdout, suppress
from pathlib import Path

from framevis import cli, job, report, ride
from framevis.reading import frame_file


def peak_mb() -> float:
    status = Path("/proc/self/status").read_text().splitlines()
    return int(next(line.split()[1] for line in status if line.startswith("VmHWM"))) / 1024.0


def main() -> None:
    ride.MOST_SPACING_MM = float(sys.argv[1])
    said = io.StringIO()
    if len(sys.argv) > 2:
        folder, draws = sys.argv[2:]
        sys.argv = ["framevis", "assess", folder, "--draws", draws]
        with redirect_stdout(said), suppress(SystemExit):
            cli.main()
    assert all(map(callable, (job.study_of, frame_file.read_frame, report.print_assessment)))  # all imported
    print(json.dumps({"peak_mb": peak_mb(), "said": said.getvalue()}))


if __name__ == "__main__":
    main()
