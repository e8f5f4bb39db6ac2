"""The ratio of a contact ellipse's axes over the ratio of the radii: exact, and by Brewe and Hamrock's fit of 1977.

k = 1.0339 (Ry/Rx)^0.636 was fitted to the solution of the equation with elliptic integrals, to within a few per cent.
"""

from __future__ import annotations

from ledger import Source, Value, check
from reference_tables import columns

from framevis.contact import ellipticity

SOURCE = Source(
    "Brewe & Hamrock 1977, simplified solution for elliptical contacts",
    "Contact of ball and groove",
    "Ratio of the ellipse's axes k over the ratio of the radii α. Exact: root of the equation with elliptic "
    "integrals, computed apart from framevis. The fit k = 1.0339 α^0.636 is from memory; its own error is 3 % at α "
    "1 and at 50 and 6 % at 100, so it is held against only up to 50.",
)
ALPHA, EXACT = columns("ellipticity", "alpha_r", "k")
FITTED_UP_TO = 50.0


def values() -> list[Value]:
    exact = [
        Value(f"k exact, α {alpha:g}", "1", k, ellipticity(alpha), "computed", relative=1e-9)
        for alpha, k in zip(ALPHA, EXACT, strict=True)
    ]
    fitted = [
        Value(f"k fitted, α {alpha:g}", "1", 1.0339 * alpha**0.636, ellipticity(alpha), "from memory", relative=0.035)
        for alpha in ALPHA
        if alpha <= FITTED_UP_TO
    ]
    return exact + fitted


def test_values() -> None:
    assert len(ALPHA) == 22
    check(values())
