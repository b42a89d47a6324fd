"""What is so now: the state of every item, grouped by state."""

from typing import Annotated

from cablewalk.documents.base import (
    Bounded,
    Id,
    Ids,
    Minutes,
    Name,
    Reader,
    Ref,
    Strict,
    as_numbers,
    as_words,
)

Spots = dict[Id, Id]
Count = Annotated[int, Bounded(ge=0)]


class Now(Strict):
    """State names as keys, items as values. What is not named has its kind's usual state.

    Usual states: a switch *unknown*; a half *bare*; a cap of a half that is bare by default
    *fitted* to it, otherwise *tethered*; a leg with a mated half *routed* where that half is;
    a cover *fastened*; a unit or panel *installed*.
    """

    on: Ids = ()
    off: Ids = ()
    blocked: Ids = ()
    """Switches off, with the close command blocked."""
    tripped: Ids = ()

    mated: Spots = {}
    """Free half to the half it is mated with (a parking half too)."""
    unverified: Spots = {}
    """Mated, lock not verified."""
    part_engaged: Spots = {}
    bare: Ids = ()
    """Halves that are bare although their cap would be expected on them."""

    fitted: Spots = {}
    """Cap to the half it is fitted to."""
    tethered: dict[Id, Id | None] = {}
    """Cap to the half or place it is tethered to (empty: its own half)."""
    held: Spots = {}
    """Cap or removed cover to the person who holds it."""
    lost: Ids = ()

    packed: Spots = {}
    """Leg, whole harness or cap to the bag it is in."""
    in_hand: Spots = {}
    loose: Spots = {}
    restrained: Spots = {}
    routed: Spots = {}
    stowed: Spots = {}
    pulled_aside: Spots = {}

    part_fastened: dict[Id, Count] = {}
    """Cover to the number of fasteners still fastened."""
    released: Ids = ()
    open: Ids = ()
    removed: dict[Id, Id | None] = {}
    """Cover, unit or panel to the place, bag or person where it is now."""
    absent: Ids = ()

    bags: Spots = {}
    """Bag to the place where it is, or the person who carries it."""
    people: Spots = {}
    """Person to place, or to the vehicle they ride."""

    along: dict[Ref, Annotated[tuple[Id, ...], Reader(as_words)]] = {}
    """Segment to the paths it is routed along."""
    ties: dict[Ref, Annotated[tuple[Id, ...], Reader(as_words)]] = {}
    """Segment to the points where it is tied."""

    cycles: dict[Id, Count] = {}
    """Half to the mates it has had."""
    unproven: dict[Id, Annotated[tuple[Name, ...], Reader(as_words)]] = {}
    """Service to the strings disturbed and not verified since."""
    established: Ids = ()
    """Services that have come alive though they begin ``established``."""
    retired: Ids = ()
    dark_min: dict[Id, Minutes] = {}
    """Service to the minutes it has been down already."""
    found_down: Ids = ()
    """Services that somebody saw down, and nobody up since: down until they are verified, whatever
    the joins."""
    used_min: dict[Id, Annotated[tuple[Minutes, ...], Reader(as_numbers)]] = {}
    """Service to the minutes its clocks have accumulated before this outage: one number for all of
    them, or one for each in their order."""
    demated_min: dict[Id, Minutes | None] = {}
    """Service that is down to the minutes since a join of its own was first broken in this outage,
    from when a clock that starts at the demate runs; empty: none was, and it does not run."""
    up_min: dict[Id, Minutes] = {}
    """Service that is up to the minutes it has been so already, of those that reset its clock."""
