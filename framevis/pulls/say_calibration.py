"""What was fitted to the pull readings, in words. Takes a `Calibration`, gives plain sentences; ± is one standard
uncertainty.
"""

from __future__ import annotations

from framevis.frame import Frame
from framevis.pulls.calibrate import Calibration, Fitted
from framevis.pulls.say_pull import force
from framevis.say import printable


def fitted_text(frame: Frame, fitted: Fitted) -> str:
    """One fitted value with its standard uncertainty and what was entered."""
    name = printable(fitted.of)
    if fitted.kind == "friction":
        return f"friction of guide {name}: {fitted.value:.4f} ± {fitted.u:.4f} (entered {fitted.entered:.4f})"
    if fitted.kind == "seal":
        value, u = force(frame, fitted.value).split(" ")[0], force(frame, fitted.u)
        return f"seal drag of guide {name}: {value} ± {u} a block (entered {force(frame, fitted.entered)})"
    return f"seat stiffness of carriage {name}: {fitted.value:.2f} ± {fitted.u:.2f} times as entered"


def calibration_lines(frame: Frame, calibration: Calibration) -> list[str]:
    """What was fitted to the pull readings, how well, and what stays as entered."""
    before, after = force(frame, calibration.rms_before), force(frame, calibration.rms_after)
    bare = f" and {calibration.bare_blocks} bare blocks" if calibration.bare_blocks else ""
    lines = [fitted_text(frame, fitted) for fitted in calibration.fitted]
    lines.append(f"by {calibration.readings} running forces{bare}: off by {before} (rms) as entered, {after} as fitted")
    if calibration.widening > 1.0:
        lines.append(
            f"the pull scatters {calibration.widening:.1f} times as much as its u says: all ± are widened by as much"
        )
    return [*lines, *map(printable, calibration.kept)]
