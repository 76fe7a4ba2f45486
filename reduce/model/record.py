"""Frozen records that cost little: the standard dataclass, made and copied several times as fast.

A movement becomes some hundred thousand records.  The standard library's frozen dataclass sets each field of each of them by a call,
and writes six methods as source text for each class when the module is loaded, used or not: together that was a seventh of a run.
Here a record is filled while it is still an open twin of its class, and turned into the frozen class at the end; its ``__init__`` is
written when the first record is made, everything else is shared.  For type checkers, `dataclasses.fields`, `dataclasses.asdict` and
every reader the classes are plain frozen, slotted dataclasses.
"""

from __future__ import annotations

import dataclasses
from operator import attrgetter
from typing import TYPE_CHECKING, Any

__all__ = ["as_values", "dataclass", "replace"]

if TYPE_CHECKING:
    from dataclasses import dataclass, replace
else:

    def dataclass(*, frozen=False, slots=False, kw_only=False, eq=True, order=False):
        """`dataclasses.dataclass`, with quick records where they are frozen and slotted."""
        if not (frozen and slots and eq) or order:
            return dataclasses.dataclass(frozen=frozen, slots=slots, kw_only=kw_only, eq=eq, order=order)

        def made(cls):
            cls.__doc__ = cls.__doc__ or cls.__name__  # else a signature is made up for it, which costs more than all the rest
            plain = dataclasses.dataclass(init=False, repr=False, eq=False, match_args=False, slots=True, kw_only=kw_only)
            return _quick(plain(cls))

        return made

    def replace(record, /, **changes):
        """`dataclasses.replace`: the record with some fields changed."""
        cls = record.__class__
        copied = getattr(cls, "_copied", None)
        if copied is None:
            return dataclasses.replace(record, **changes)
        copy = copied(record)
        for name, value in changes.items():
            setattr(copy, name, value)
        copy.__class__ = cls
        return copy


def as_values(record: Any) -> dict[str, Any]:
    """`dataclasses.asdict` for records that hold records, tuples of them and plain values (which never change, so need no copy)."""
    return {field.name: _value(getattr(record, field.name)) for field in dataclasses.fields(record)}


def _value(value: Any) -> Any:
    if value.__class__ is tuple:
        return tuple([_value(each) for each in value])
    return as_values(value) if hasattr(value, "__dataclass_fields__") else value


def _quick(cls: Any) -> Any:
    """The slotted class with the manners of a frozen dataclass."""
    fields = dataclasses.fields(cls)
    names = tuple(field.name for field in fields)
    values = _values(names)
    compared = _values(tuple(field.name for field in fields if field.compare))
    blank = type(cls.__name__, cls.__bases__, {"__slots__": cls.__dict__["__slots__"], **_OPEN})

    def __init__(self: Any, *given: Any, **named: Any) -> None:
        cls.__init__ = _init(cls, blank, fields)
        cls.__init__(self, *given, **named)

    def _copied(self: Any) -> Any:
        cls._copied = staticmethod(_copier(blank, names))
        return cls._copied(self)

    def __eq__(self: Any, other: Any) -> Any:
        return compared(self) == compared(other) if other.__class__ is self.__class__ else NotImplemented

    def __hash__(self: Any) -> int:
        return hash(compared(self))

    def __repr__(self: Any) -> str:
        shown = ", ".join(f"{field.name}={getattr(self, field.name)!r}" for field in fields if field.repr)
        return f"{self.__class__.__qualname__}({shown})"

    def __reduce__(self: Any) -> Any:
        return _restored, (cls, values(self))

    for method in (__init__, __eq__, __hash__, __repr__, __reduce__):
        if method.__name__ not in cls.__dict__ or cls.__dict__[method.__name__] is None:
            setattr(cls, method.__name__, method)
    cls._copied = staticmethod(_copied)
    cls._open = blank
    cls.__setattr__ = _shut
    cls.__delattr__ = _shut
    return cls


_OPEN = {"__setattr__": object.__setattr__, "__delattr__": object.__delattr__}


def _values(names: tuple[str, ...]) -> Any:
    """Reads the fields as a tuple."""
    if len(names) > 1:
        return attrgetter(*names)
    return lambda record: tuple(getattr(record, name) for name in names)


def _shut(self: Any, name: str, *value: Any) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot change field {name!r}")


def _restored(cls: Any, values: tuple[Any, ...]) -> Any:
    """A record read from its pickle."""
    record = cls._open.__new__(cls._open)
    for field, value in zip(dataclasses.fields(cls), values, strict=True):
        setattr(record, field.name, value)
    record.__class__ = cls
    return record


def _init(cls: Any, blank: Any, fields: tuple[dataclasses.Field[Any], ...]) -> Any:
    """Writes ``__init__``: fill the open twin, then shut it."""
    space: dict[str, Any] = {"_shape": object.__setattr__, "_blank": blank, "_cls": cls}
    told: list[str] = []
    named: list[str] = []
    body = ["_shape(self, '__class__', _blank)"]
    for field in fields:
        value = field.name
        word = field.name
        if field.default is not dataclasses.MISSING:
            space[f"_default_{field.name}"] = field.default
            word += f"=_default_{field.name}"
        elif field.default_factory is not dataclasses.MISSING:
            space[f"_make_{field.name}"] = field.default_factory
            space["_missing"] = dataclasses.MISSING
            word += "=_missing"
            value = f"_make_{field.name}() if {field.name} is _missing else {field.name}"
        (named if field.kw_only else told).append(word)
        body.append(f"self.{field.name} = {value}")
    body.append("self.__class__ = _cls")
    arguments = ", ".join(["self", *told, *(["*", *named] if named else [])])
    return _written("__init__", arguments, body, space, cls)


def _copier(blank: Any, names: tuple[str, ...]) -> Any:
    """Writes the function that copies a record into an open twin."""
    body = ["copy = _new(_blank)", *(f"copy.{name} = self.{name}" for name in names), "return copy"]
    return _written("_copied", "self", body, {"_new": object.__new__, "_blank": blank}, blank)


def _written(name: str, arguments: str, body: list[str], space: dict[str, Any], cls: Any) -> Any:
    exec(f"def {name}({arguments}):\n " + "\n ".join(body), space)
    function = space[name]
    function.__qualname__ = f"{cls.__qualname__}.{name}"
    return function
