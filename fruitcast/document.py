"""What all documents share: answers printed as JSON, and what the diary keeps of them.

A document is made whole, once, and nothing is added to it. Dates are dates and weights kg
inside; ISO text is only in the JSON. The order of the fields is the order of the keys.
"""

from __future__ import annotations

import json
from datetime import date, datetime
from functools import reduce
from importlib import import_module
from operator import or_
from typing import Annotated, Any, ClassVar, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    PlainSerializer,
    SerializerFunctionWrapHandler,
    TypeAdapter,
    ValidationError,
    WithJsonSchema,
    model_serializer,
)
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import CoreSchema

_INSTANT = {"type": "string", "format": "date-time"}

Day = Annotated[date, Field(ge=date(1950, 1, 1), lt=date(2300, 1, 1))]
"""A day far from the ends of the calendar: spans are added to it."""

Number = Annotated[
    Annotated[int, Field(gt=-1e9, lt=1e9)] | Annotated[float, Field(gt=-1e9, lt=1e9)],
    WithJsonSchema({"type": "number"}),
]
"""A number that is one, and no absurd one. A whole one stays whole, so that 0 is printed as 0."""

Amount = Annotated[int | float, WithJsonSchema({"type": "number"})]
"""An amount of money, in the grower's own."""


def _iso(moment: datetime) -> str:
    return moment.isoformat()


Instant = Annotated[datetime, PlainSerializer(_iso, return_type=str), WithJsonSchema(_INSTANT)]
"""An instant with its offset from UTC, printed as Python writes it."""

Hours = Annotated[
    Annotated[int, Field(ge=0, le=1000)] | Annotated[float, Field(ge=0, le=1000)],
    WithJsonSchema({"type": "number", "minimum": 0, "maximum": 1000}),
]
"""Hours in water."""

Count = Annotated[int, Field(ge=0, le=1_000_000)]
"""A whole number from 0 to a million."""


class _PlainSchema(GenerateJsonSchema):
    """JSON Schema without a title for each field, which would only say its name again."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


class Document(BaseModel):
    """A document or a part of one: frozen, read strictly, keys not known passed over."""

    model_config = ConfigDict(
        frozen=True,
        strict=True,
        # A field may be called model_change.
        protected_namespaces=(),
        allow_inf_nan=False,
        populate_by_name=True,
        # Each command uses a few of the classes; the others need not be made ready.
        defer_build=True,
        # What is printed has every key, also those that a kept document may lack.
        json_schema_serialization_defaults_required=True,
    )

    @classmethod
    def taken_from(cls, source: object, **others: Any) -> Self:
        """Return one whose fields are the source's attributes of the same name, but for others."""
        alike = {name: getattr(source, name) for name in cls.model_fields if name not in others}
        return cls(**alike, **others)

    def plain(self) -> dict[str, Any]:
        """Return the keys with plain values, days in ISO: what JSON can say."""
        return self.model_dump(mode="json", by_alias=True)

    def json_text(self, *, indent: int | None = None, ascii_only: bool = False) -> str:
        """Return the document as JSON, numbers as they are.

        Raises ValueError if a number is none.
        """
        return json.dumps(self.plain(), ensure_ascii=ascii_only, allow_nan=False, indent=indent)

    def json_file(self) -> bytes:
        """Return the document as a JSON file for people and programs, UTF-8."""
        return f"{self.json_text(indent=1)}\n".encode()

    @classmethod
    def json_schema(cls) -> dict[str, Any]:
        """Return the JSON Schema (draft 2020-12) of what is printed."""
        return cls.model_json_schema(mode="serialization", schema_generator=_PlainSchema)


def schema_of(*places: str) -> dict[str, Any]:
    """Return the JSON Schema of documents of some classes, each named as 'module:class'."""
    kinds = []
    for place in places:
        module, _, name = place.partition(":")
        kinds.append(getattr(import_module(module), name))
    adapter: TypeAdapter[Any] = TypeAdapter(reduce(or_, kinds))
    return adapter.json_schema(mode="serialization", schema_generator=_PlainSchema)


def first_fault(error: ValidationError) -> str:
    """Return where a text is not as it should be and how; entries count from 1."""
    fault = error.errors(include_url=False, include_context=False, include_input=False)[0]
    # A number may be whole or not, which the place tells by a last part of its own.
    way = [part for part in fault["loc"] if not str(part).startswith("constrained-")]
    place = " ".join(str(part + 1 if isinstance(part, int) else part) for part in way)
    if len(way) < len(fault["loc"]):
        return f"{place} is not a number, or too large or small"
    if fault["type"] == "missing":
        return f"{place} is missing"
    return f"{place or 'it'}: {fault['msg'][:1].lower()}{fault['msg'][1:]}"[:200]


class Sparse(Document):
    """A document that leaves some keys out where there is nothing to say."""

    left_out: ClassVar[frozenset[str]]
    """The fields that are left out when they are None."""

    # Without a return type, so that the JSON Schema stays that of the fields.
    @model_serializer(mode="wrap")
    def _without(self, handler: SerializerFunctionWrapHandler):  # type: ignore[no-untyped-def]
        found = handler(self)
        for name in self.left_out:
            if getattr(self, name) is None:
                found.pop(name, None)
        return found

    @classmethod
    def __get_pydantic_json_schema__(
        cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        found = handler(core_schema)
        schema = handler.resolve_ref_schema(found)
        schema["required"] = [key for key in schema["required"] if key not in cls.left_out]
        return found
