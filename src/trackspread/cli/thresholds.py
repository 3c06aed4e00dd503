"""The thresholds of an analysis as flags of a command."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields
from typing import Any, TypeVar

import click

from trackspread.errors import BadOption
from trackspread.options import Options

Function = TypeVar("Function", bound=Callable[..., Any])
_DEFAULT = Options()


class FiniteRange(click.FloatRange):
    """A number within bounds; ``nan`` lies within none."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number, or say which are allowed."""
        found = float(super().convert(value, param, ctx))
        if not math.isfinite(found):
            self.fail(f"{value!r} is not in the range {self._describe_range()}.", param, ctx)
        return found


class _Decimal(click.types.FloatParamType):
    """A number; says how to write one."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        try:
            return float(value)
        except ValueError:
            self.fail(f"{value!r} is no number; write it with a point, such as 2.5", param, ctx)


def threshold(field: str, text: str) -> Callable[[Function], Function]:
    """Return the decorator that gives a command the flag of a threshold, with its default.

    Parameters
    ----------
    field : str
        Attribute of `Options`; whole numbers stay whole.
    text : str
        The help, with the unit.

    Returns
    -------
    callable
        Decorator of the command.
    """
    default = getattr(_DEFAULT, field)
    kind = _Decimal() if isinstance(default, float) else int
    return click.option(_flag(field), field, type=kind, default=default, show_default=True, help=text)


def _flag(field: str) -> str:
    """Return the flag of an attribute: without its unit."""
    return "--" + field.removesuffix("_m").removesuffix("_s").replace("_", "-")


def options_of(given: dict[str, Any]) -> Options:
    """Return the thresholds given; one outside its range is told by its flag.

    Parameters
    ----------
    given : dict
        Parameters of the command by name; those that are no threshold are passed over.

    Returns
    -------
    Options

    Raises
    ------
    BadOption
        A threshold outside its range; it names the flag, not the attribute.
    """
    try:
        return Options(**{field.name: given[field.name] for field in fields(Options) if field.name in given})
    except BadOption as error:
        raise error.renamed({field.name: _flag(field.name) for field in fields(Options)}) from None
