"""Electrical data: what loads draw, what wire and contacts bear, and who says so."""

from typing import Annotated, Literal, Self

from pydantic import model_validator

from cablewalk.documents.base import Bounded, Id, Label, Name, Positive, Strict
from cablewalk.documents.limits import Limit, Source

Gauge = Annotated[str, Bounded(pattern=r"^([0-9]|[1-3][0-9]|40)$")]
"""A wire gauge (AWG), 0 to 40, as a key."""


class Draw(Strict):
    """What a unit draws between two of its terminals: constant power, a resistance, or a current.

    ``passes`` names a feed of the same unit (``self`` for its only one, given in the short form):
    the draw is then that feed's output power over ``efficiency``. ``min_volts`` is what the load
    needs to work. A draw counts as on whenever it is fed: a heater's thermostat is not asked.
    """

    hi: Name = "hi"
    ret: Name = "ret"
    power_w: Positive | None = None
    ohm: Positive | None = None
    amps: Positive | None = None
    passes: Id | None = None
    efficiency: Annotated[float, Bounded(gt=0, le=1)] | None = None
    min_volts: Positive | None = None
    source: Label

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = (self.power_w, self.ohm, self.amps, self.passes)
        if sum(kind is not None for kind in kinds) != 1:
            raise ValueError("a draw is one of power_w, ohm, amps, or passes with an efficiency")
        if (self.passes is None) != (self.efficiency is None):
            raise ValueError("efficiency belongs to a draw that passes power on, and only to it")
        if self.hi == self.ret:
            raise ValueError("a draw lies between two different terminals")
        if not self.source:
            raise ValueError("a draw names its source")
        return self


class WireData(Strict):
    """What the resistance of wire is worked out with.

    ``conductor_c``: temperature of the conductor; the hottest gives the largest drop.
    ``ohm_per_m``: gauge to resistance at 20 °C, where the maker's value is known; without it that
    of solid annealed copper (ASTM B258, NBS Circular 31; stranded has about 4 % more).
    """

    conductor_c: Annotated[float, Bounded(ge=-100, le=300)]
    ohm_per_m: dict[Gauge, Positive] = {}
    source: Source


class Derating(Strict):
    """How much current a wire may carry in its bundle: a named profile, or the user's own table.

    ``allowed_a`` is the user's own table, gauge to ampere, bundling counted in already; it goes
    before the profile. ``source`` says who chose it for this programme.
    """

    profile: Literal["mil-std-975m"] | None = None
    insulation_c: Annotated[int, Bounded(gt=0, le=500)] | None = None
    ambient_c: Annotated[float, Bounded(ge=-273.15, le=500)] | None = None
    allowed_a: dict[Gauge, Positive] = {}
    source: Source

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if self.profile is None and not self.allowed_a:
            raise ValueError("derating is a profile, or your own table allowed_a")
        if (self.profile is None) != (self.insulation_c is None):
            raise ValueError("insulation_c belongs to a profile, and a profile needs it")
        return self


class ContactData(Strict):
    """A contact size: current it may carry, and resistance of a mated pair.

    The resistance is given, or taken from a catalogue's drop at its test current for contacts
    of this size. A catalogue's test current is no rating: ``rating_a`` is the user's.
    """

    rating_a: Positive | None = None
    resistance_mohm: Positive | None = None
    catalogue: Literal["series-iii", "series-iii-hermetic"] | None = None
    source: Source

    @model_validator(mode="after")
    def _one_resistance(self) -> Self:
        if self.resistance_mohm is not None and self.catalogue is not None:
            raise ValueError("give resistance_mohm or a catalogue, not both")
        return self


class Electrical(Strict):
    """What drops and ratings are worked out with. What is not given is not judged.

    ``contacts``: contact size to its data; ``contact_sizes``: interface to the size of its
    contacts (the smallest, where they differ). ``drop_volts`` and ``drop_percent`` (of the
    feed's volts): how much may be lost between feed and load.
    """

    wire: WireData | None = None
    derating: Derating | None = None
    contacts: dict[Name, ContactData] = {}
    contact_sizes: dict[Id, Name] = {}
    drop_volts: Limit | None = None
    drop_percent: Limit | None = None

    @model_validator(mode="after")
    def _sizes(self) -> Self:
        for interface, size in self.contact_sizes.items():
            if size not in self.contacts:
                known = ", ".join(self.contacts) or "none"
                raise ValueError(
                    f"contact_sizes gives {interface} size {size}; contacts has {known}"
                )
        return self
