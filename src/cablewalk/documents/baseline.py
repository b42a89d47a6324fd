"""The baseline: hardware, services, and what is so now."""

from typing import Annotated, Literal, Self

from pydantic import model_validator

from cablewalk.documents.base import Id, Label, Reader, Strict, Told, as_mapping
from cablewalk.documents.electrical import Electrical
from cablewalk.documents.hardware import Bag, Cap, Interface, Person
from cablewalk.documents.harness import Harness
from cablewalk.documents.limits import Limits
from cablewalk.documents.now import Now
from cablewalk.documents.places import Place, WayPath
from cablewalk.documents.service import Service
from cablewalk.findings import nearest


class Baseline(Strict):
    """One hardware configuration: what there is, what it serves, and how it stands now."""

    cablewalk: Literal["1", 1]
    baseline: Id
    title: Label = ""
    interfaces: dict[Id, Interface] = {}
    places: dict[Id, Place]
    paths: dict[Id, WayPath] = {}
    harnesses: dict[Id, Harness] = {}
    caps: dict[Id, Cap] = {}
    bags: Annotated[dict[Id, Bag], Reader(as_mapping)] = {}
    people: dict[Id, Person] = {}
    services: dict[Id, Service] = {}
    limits: Limits = Limits.model_construct()
    electrical: Electrical = Electrical.model_construct()
    now: Now = Now.model_construct()

    @model_validator(mode="after")
    def _contact_sizes(self) -> Self:
        for name in self.electrical.contact_sizes:
            if name not in self.interfaces:
                raise Told(
                    f"electrical.contact_sizes names {name}, which is no interface",
                    f"one of {', '.join(self.interfaces) or 'the interfaces: there is none'}",
                    way_out=nearest(name, list(self.interfaces)) or "name one of the interfaces",
                )
        return self
