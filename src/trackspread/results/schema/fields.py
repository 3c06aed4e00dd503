"""Fields of a result: a name, its kind, why it may be null, and the columns in which it is shown."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from operator import attrgetter
from typing import Any, Literal

from trackspread.model import NOTHING, Reason
from trackspread.results.schema.intervals import NO_FIGURE, Interval
from trackspread.results.schema.kinds import Check, Described, Kind
from trackspread.results.schema.reasons import CODE, Code, Why, with_reason

Shape = Literal["text", "number", "share", "truth", "figure", "verdict", "origin"]
Part = str | int | Callable[[Any], Any]

LAST = 9  # rank of a column that stands behind all others


@dataclass(frozen=True, slots=True)
class Column:
    """A column: ``name`` and ``unit`` head the file, ``title`` heads the page.

    ``part`` says what of the field's value is shown: a name or a number in it, or a function of it. Columns
    of a lower ``rank`` stand first; of the same rank they stand in the order of the fields.
    """

    name: str
    title: str
    unit: str = ""
    kind: Shape = "number"
    interval: bool = False
    part: Part | None = field(default=None, kw_only=True)
    rank: int = field(default=LAST, kw_only=True)

    def headers(self) -> list[str]:
        """Return the names of the columns that this one takes up in a file."""
        unit = f"_{self.unit}" if self.unit else ""
        names = [f"{self.name}{unit}"]
        if self.interval:
            names += [f"{self.name}_low{unit}", f"{self.name}_high{unit}"]
        return names


@dataclass(frozen=True, slots=True)
class Field:
    """One name of the document.

    Parameters
    ----------
    name : str
        Name in the document; ``""`` puts the names of the value beside each other.
    kind : Kind
        What the value is, with its unit and rounding.
    about : str
        What it means, for the JSON Schema.
    why : str or callable, optional
        Null rule: the code of the reason beside a null, or a function of the record that gives the reason.
    because : str, optional
        Attribute of the record that holds a better reason.
    source : str, optional
        Attribute that holds the value, ``"."`` for the record itself; the name by default.
    optional : bool
        Whether the first edition did without: nobody misses it on reading.
    derived : bool
        Whether another field tells the same, so that it is not read back.
    show : Column or tuple of Column
        Where it is shown.
    """

    name: str
    kind: Kind
    about: str = ""
    why: str | Callable[[Any], Reason] = field(default="", kw_only=True)
    because: str = field(default="", kw_only=True)
    source: str = field(default="", kw_only=True)
    optional: bool = field(default=False, kw_only=True)
    derived: bool = field(default=False, kw_only=True)
    show: Column | tuple[Column, ...] = field(default=(), kw_only=True)

    @property
    def columns(self) -> tuple[Column, ...]:
        """Columns in which the value is shown."""
        return (self.show,) if isinstance(self.show, Column) else self.show

    @property
    def attribute(self) -> str:
        """Attribute of the record that holds the value."""
        return self.source or self.name

    def value(self, record: Any) -> Any:
        """Return the value in a record."""
        return record if self.attribute == "." else attrgetter(self.attribute)(record)

    def reason(self, record: Any) -> Reason:
        """Return why the value is null."""
        if callable(self.why):
            return self.why(record)
        found: Reason = attrgetter(self.because)(record) if self.because else NOTHING
        return found or (Reason(self.why) if self.why else NO_FIGURE)

    def keeps_reason(self) -> bool:
        """Whether the record keeps its reason beside this value."""
        return bool(self.because) and "." not in self.because


@dataclass(frozen=True, slots=True)
class Group(Kind):
    """Values of one record that stand in an object of their own."""

    fields: tuple[Field, ...]
    about: str = ""

    def every(self) -> Iterator[Field]:
        """Yield the fields, in order."""
        yield from self.fields

    def written(self, value: Any, full: bool) -> Any:
        out: dict[str, Any] = {}
        for entry in self.fields:
            part = entry.kind.written(entry.value(value), full)
            if not entry.name:
                out |= part
                continue
            out[entry.name] = part
            if full and entry.keeps_reason():
                out |= with_reason(f"{entry.name}_reason", attrgetter(entry.because)(value), full)
            elif not full and part is None and (entry.why or entry.because):
                out |= with_reason(f"{entry.name}_reason", entry.reason(value), full)
        return out

    def check(self, value: Any, place: str, check: Check) -> None:
        if not isinstance(value, dict):
            raise check.refuse(place, value, "an object is needed")
        for entry in self.fields:
            inside = f"{place}.{entry.name}" if place and entry.name else place or entry.name
            if not entry.name:
                entry.kind.check(value, place, check)
            elif entry.name in value:
                entry.kind.check(value[entry.name], inside, check)
                for end, kind in (("_reason", Why()), ("_reason" + CODE, Code())):
                    if entry.name + end in value:
                        kind.check(value[entry.name + end], inside + end, check)
            elif not entry.optional:
                raise check.refuse(inside, None, "this name is missing")

    def values(self, value: Mapping[str, Any], arrays: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """Return what the fields of an object hold, by the attributes of the record."""
        out: dict[str, Any] = {}
        for entry in self.fields:
            if entry.derived:
                continue
            found = value if not entry.name else value.get(entry.name)
            part = (arrays or {}).get(entry.name)
            if isinstance(entry.kind, Group) and entry.attribute == ".":
                out |= entry.kind.values(found or {}, arrays)
            elif entry.name and entry.name not in value:
                out |= {} if entry.kind.empty is None else {entry.attribute: entry.kind.empty}
            else:
                out[entry.attribute] = entry.kind.read(found, part)
            if entry.keeps_reason():
                out[entry.because] = out.get(entry.because) or Why().read(
                    value.get(f"{entry.name}_reason", "")
                )
        return out

    def described(self) -> Described:
        names = [entry.name for entry in self.fields if entry.name and not entry.optional]
        properties: dict[str, Any] = {}
        rules: list[Described] = []
        for entry in self.fields:
            if not entry.name:
                names = [*Interval().names(), *names]
                rules.append(entry.kind.described())
                continue
            kind = entry.kind.described()
            properties[entry.name] = kind | ({"description": entry.about} if entry.about else {})
            if entry.why or entry.because:
                rules.append(_null_rule(entry.name))
        out: Described = {"type": "object", "required": names, "properties": properties}
        about = {"description": self.about} if self.about else {}
        return about | out | ({"allOf": rules} if rules else {})


@dataclass(frozen=True, slots=True)
class Subject(Group):
    """One kind of record. ``rules`` are conditions of JSON Schema beyond those of its fields."""

    name: str = ""
    record: Callable[..., Any] = dict
    rules: tuple[Described, ...] = ()

    def read(self, value: Any, arrays: Any = None) -> Any:
        more = {name: part for name, part in (arrays or {}).items() if name not in self.names_of_lists()}
        return self.record(**(self.values(value, arrays) | more))

    def names_of_lists(self) -> set[str]:
        """Return the names of fields whose arrays belong to their items."""
        return {entry.name for entry in self.fields}

    def described(self) -> Described:
        return {"$ref": f"#/$defs/{self.name}"}

    def definition(self) -> Described:
        """Return the definition of the record in JSON Schema."""
        out = Group(self.fields, self.about).described()
        return out | ({"allOf": [*out.get("allOf", []), *self.rules]} if self.rules else {})


def _null_rule(name: str) -> Described:
    """Return the rule that a null has its reason beside it."""
    null = {"properties": {name: {"type": "null"}}, "required": [name]}
    reason = f"{name}_reason"
    told = {"required": [reason], "properties": {reason: {"type": "string", "minLength": 1}}}
    return {"if": null, "then": told}


def text(name: str, title: str, **more: Any) -> Column:
    """Return a column of texts.

    Parameters
    ----------
    name, title : str
        Heads of the file and of the page.
    **more : Any
        Other attributes of `Column`.

    Returns
    -------
    Column
    """
    return Column(name, title, kind="text", **more)


def figure(name: str, title: str, unit: str, interval: bool = False, **more: Any) -> Column:
    """Return a column of figures.

    Parameters
    ----------
    name, title : str
        Heads of the file and of the page.
    unit : str
        Ends the name in a file; ``""`` without unit.
    interval : bool
        Whether low and high follow.
    **more : Any
        Other attributes of `Column`.

    Returns
    -------
    Column
    """
    return Column(name, title, unit, "figure", interval, **more)
