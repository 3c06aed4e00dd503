"""Means of what is known, and what is left about them."""

from __future__ import annotations

import numpy as np

from trackspread.model import Floats


def mean_known(values: Floats, least: int = 1) -> Floats:
    """Return the mean of the known values of each column.

    Parameters
    ----------
    values : ndarray, shape (N, S)
        NaN = unknown.
    least : int
        Fewer known values than these give NaN.

    Returns
    -------
    ndarray, shape (S,)

    Examples
    --------
    >>> mean_known(np.array([[1.0, np.nan, 2.0], [3.0, np.nan, np.nan]]))
    array([ 2., nan,  2.])
    """
    count = np.isfinite(values).sum(axis=0)
    none = np.full(count.shape, np.nan)
    return np.asarray(np.divide(np.nansum(values, axis=0), count, out=none, where=count >= least))


def about_mean(values: Floats, least: int = 1) -> Floats:
    """Return values less the mean of their column, shape (N, S): residuals about the mean.

    Parameters
    ----------
    values, least
        As for `mean_known`.

    Returns
    -------
    ndarray, shape (N, S)

    Examples
    --------
    >>> about_mean(np.array([[1.0, 5.0], [3.0, np.nan]]), least=2)
    array([[-1., nan],
           [ 1., nan]])
    """
    return np.asarray(values - mean_known(values, least))
