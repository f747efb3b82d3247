"""One way to compare numbers, which makes sure that the comparison could have failed."""

from typing import Any

import numpy as np


def near(actual: Any, expected: Any, *, rel: float = 0.0, abs: float = 0.0, why: str = "") -> bool:
    """True where actual equals expected within rel or abs; `why` states the reason for the tolerance.

    Also insists that the same tolerance would reject the result off by one per cent, so
    that no comparison is vacuous. Where something is expected to be zero give abs; the
    rejection is then tested on the nonzero entries only.
    """
    a, e = np.asarray(actual, dtype=np.float64), np.asarray(expected, dtype=np.float64)
    if a.shape != e.shape:
        a, e = np.broadcast_arrays(a, e)
    bound = np.maximum(rel * np.abs(e), abs)
    assert np.all(np.isfinite(a)), f"not finite: {actual}"
    worst = np.max(np.abs(a - e) - bound, initial=-np.inf)
    assert worst <= 0.0, f"{actual} is not {expected} within rel {rel}, abs {abs} {why}"
    live = e != 0.0
    if live.any():
        off = np.abs(1.01 * a[live] - e[live]) > bound[live]
        assert off.any(), f"the tolerance rel {rel}, abs {abs} would accept a result off by one per cent {why}"
    return True
