"""Quantiles and tails of distributions by scipy.special (scipy.stats takes half a second to load).

scipy.optimize loads when it is first asked for, which few analyses do.

Argument order is that of scipy.stats, degrees of freedom last; all take arrays.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

from trackspread.model import Floats

ROUNDING = 1e-6  # of a scale, by which a bracket is wider than its ends, which may be one
Number = float | NDArray[np.floating[Any]]


def chi2_quantile(p: Number, dof: Number) -> Floats:
    """Return the chi-square quantile below which ``p`` lies.

    Parameters
    ----------
    p : float or ndarray
        Probability, 0 to 1.
    dof : float or ndarray
        Degrees of freedom.

    Returns
    -------
    ndarray
    """
    return np.asarray(2.0 * special.gammaincinv(np.asarray(dof) / 2.0, p))


def chi2_below(x: Number, dof: Number) -> Floats:
    """Return the chi-square probability below ``x``.

    Parameters
    ----------
    x : float or ndarray
    dof : float or ndarray
        Degrees of freedom.

    Returns
    -------
    ndarray
    """
    return np.asarray(special.gammainc(np.asarray(dof) / 2.0, np.asarray(x) / 2.0))


def t_quantile(p: Number, dof: Number) -> Floats:
    """Return Student's t quantile below which ``p`` lies.

    Parameters
    ----------
    p : float or ndarray
        Probability, 0 to 1.
    dof : float or ndarray
        Degrees of freedom.

    Returns
    -------
    ndarray
    """
    return np.asarray(special.stdtrit(dof, p))


def t_below(x: Number, dof: Number) -> Floats:
    """Return Student's t probability below ``x``.

    Parameters
    ----------
    x : float or ndarray
    dof : float or ndarray
        Degrees of freedom.

    Returns
    -------
    ndarray
    """
    return np.asarray(special.stdtr(dof, x))


def t_mixture_quantile(p: Floats, weight: Floats, centre: Floats, scale: Floats, dof: Number) -> Floats:
    """Return the quantiles of a mixture of Student's t; they lie between those of its components.

    Parameters
    ----------
    p : ndarray, shape (Q,)
        Probabilities, 0 to 1.
    weight : ndarray, shape (K,)
        Of the components, of sum 1.
    centre, scale : ndarray, shape (K,)
        Of each component.
    dof : float or ndarray, shape (K,)
        Degrees of freedom.

    Returns
    -------
    ndarray, shape (Q,)

    Examples
    --------
    The middle of two alike but for their centre lies half way:

    >>> half, alike = np.array([0.5, 0.5]), np.ones(2)
    >>> round(float(t_mixture_quantile(np.array([0.5]), half, np.array([1.0, 3.0]), alike, 5.0)[0]), 9)
    2.0
    """
    component = centre + scale * t_quantile(p[:, None], dof)

    def excess(x: Floats, probability: Floats) -> Floats:
        below = t_below((x[:, None] - centre) / scale, dof)
        return np.asarray(below @ weight - probability)

    from scipy.optimize import elementwise  # noqa: PLC0415

    rounding = ROUNDING * np.max(scale)
    bracket = component.min(axis=1) - rounding, component.max(axis=1) + rounding
    return np.asarray(elementwise.find_root(excess, bracket, args=(p,)).x)


def f_quantile(p: Number, above: Number, below: Number) -> Floats:
    """Return Fisher's F quantile; ``above`` and ``below`` the fraction line are the degrees of freedom.

    Parameters
    ----------
    p : float or ndarray
        Probability, 0 to 1.
    above : float or ndarray
        Degrees of freedom of the numerator.
    below : float or ndarray
        Those of the denominator.

    Returns
    -------
    ndarray
    """
    return np.asarray(special.fdtri(above, below, p))


def normal_above(x: Number) -> Floats:
    """Return the standard normal probability above ``x``.

    Parameters
    ----------
    x : float or ndarray

    Returns
    -------
    ndarray
    """
    return np.asarray(special.ndtr(-np.asarray(x)))


def coin_at_most(k: Number, n: Number) -> Floats:
    """Return the probability of at most ``k`` heads in ``n`` tosses of a fair coin.

    Parameters
    ----------
    k : float or ndarray
        Heads.
    n : float or ndarray
        Tosses.

    Returns
    -------
    ndarray
    """
    return np.asarray(special.bdtr(k, n, 0.5))


def noncentral_t_above(x: Number, dof: Number, shift: Number) -> Floats:
    """Return the probability of the noncentral t above ``x``; where it is lost in the tail, 0 or 1.

    Parameters
    ----------
    x : float or ndarray
    dof : float or ndarray
        Degrees of freedom.
    shift : float or ndarray
        Noncentrality.

    Returns
    -------
    ndarray
    """
    below = np.asarray(special.nctdtr(dof, shift, x))
    return np.where(np.isnan(below), np.asarray(shift) > np.asarray(x), 1.0 - below)


def normal_quantile(p: Number) -> Floats:
    """Return the standard normal quantile below which ``p`` lies.

    Parameters
    ----------
    p : float or ndarray
        Probability, 0 to 1.

    Returns
    -------
    ndarray
    """
    return np.asarray(special.ndtri(p))
