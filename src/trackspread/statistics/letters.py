"""Many comparisons at once: p-values held to their family, and letters for who is not told apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackspread.model import Bools, Floats, Ints


def holm(p: Floats, smallest: Floats | None = None, risk: float = 0.05) -> Floats:
    """Return p-values adjusted for all comparisons of a family, so that each may be held against its risk.

    Parameters
    ----------
    p : ndarray, shape (m,)
        p-values; ``NaN`` is no comparison, stays so and costs nothing.
    smallest : ndarray, shape (m,), optional
        The smallest p that each test could have given with so many rides (exact tests have one).
    risk : float
        Risk of one false finding or more in the whole family, for which ``smallest`` is asked.

    Returns
    -------
    ndarray, shape (m,)

    Notes
    -----
    The i-th smallest p is multiplied by m - i + 1, and none is below the one before it (Holm 1979, Scand. J.
    Stat. 6:65). A test that could not have reached ``risk`` / k, k being the number of tests that could,
    cannot give a false finding and is not counted (Tarone 1990, Biometrics 46:515); its own p times the
    number of all is told.

    Examples
    --------
    >>> holm(np.array([0.01, 0.04, 0.03, 0.005])).round(3).tolist()
    [0.03, 0.06, 0.06, 0.02]
    """
    known = np.flatnonzero(np.isfinite(p))
    out = np.full(len(p), np.nan)
    floor = np.zeros(len(p)) if smallest is None else smallest
    count = known[counted(floor[known], risk)]
    rest = np.setdiff1d(known, count)
    out[rest] = np.minimum(p[rest] * len(known), 1.0)
    order = count[np.argsort(p[count], kind="stable")]
    steps = np.arange(len(order), 0, -1)
    out[order] = np.minimum(np.maximum.accumulate(p[order] * steps), 1.0)
    return out


def counted(smallest: Floats, risk: float) -> Ints:
    """Return the places of the tests of a family that could give a false finding (Tarone 1990).

    Parameters
    ----------
    smallest : ndarray, shape (m,)
        The smallest p that each could give.
    risk : float
        Of one false finding or more in the whole family.

    Returns
    -------
    ndarray of int, shape (k,)

    Examples
    --------
    >>> counted(np.array([0.0, 0.125, 0.125]), 0.05).tolist()
    [0]
    """
    found = np.arange(len(smallest))
    for k in range(1, len(smallest) + 1):
        found = np.flatnonzero(smallest <= risk / k)
        if len(found) <= k:
            break
    return found


def letters(apart: Bools) -> list[str]:
    """Return letters for each of n: two of them share one exactly where they are not told apart.

    Parameters
    ----------
    apart : ndarray of bool, shape (n, n)
        Symmetric: who is told apart from whom. The first row gets the first letter.

    Returns
    -------
    list of str, length n

    Notes
    -----
    Insert and absorb (Piepho 2004, J. Comput. Graph. Stat. 13:456): all begin in one column; for every pair
    told apart each column that holds both is doubled, one copy without the one, the other without the other;
    columns that another one contains are dropped.

    Examples
    --------
    >>> letters(np.array([[0, 0, 1], [0, 0, 0], [1, 0, 0]], dtype=bool))
    ['a', 'ab', 'b']
    """
    size = len(apart)
    columns = [frozenset(range(size))]
    for i, j in zip(*np.nonzero(np.triu(apart, 1)), strict=True):
        split = [column - {int(gone)} for column in columns if {i, j} <= column for gone in (j, i)]
        columns = _absorbed([column for column in columns if not {i, j} <= column] + split)
    columns.sort(key=sorted)
    return ["".join(_letter(k) for k, column in enumerate(columns) if row in column) for row in range(size)]


def _absorbed(columns: Sequence[frozenset[int]]) -> list[frozenset[int]]:
    """Return the columns that no other one contains, each once."""
    distinct = list(dict.fromkeys(columns))
    return [one for one in distinct if not any(one < other for other in distinct)]


def _letter(number: int) -> str:
    """Return a to z, then a1 to z1 and so on."""
    turn, place = divmod(number, 26)
    return chr(97 + place) + (str(turn) if turn else "")
