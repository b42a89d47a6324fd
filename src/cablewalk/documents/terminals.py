"""What must hold of the names of contacts and terminals, told in the parts of a message."""

from cablewalk.documents.base import Told, twice


def check_once(names: tuple[str, ...], what: str) -> None:
    """Raise where a name stands twice; ``what`` names the things in the plural."""
    if len(set(names)) != len(names):
        raise Told(
            f"two {what} are named {' and two '.join(twice(names)[:4])}",
            f"names of {what} that differ",
            f"{len(names)} {what}, but {len(set(names))} names",
            "rename one of the two, or take it out",
        )


def check_groups(groups: tuple[tuple[str, ...], ...], terminals: tuple[str, ...]) -> None:
    """Raise unless the groups hold every terminal of a unit exactly once."""
    named = [name for group in groups for name in group]
    wrong = {
        "in no group": [name for name in terminals if name not in named],
        "in more than one": twice(named),
        "no terminal of it": [name for name in dict.fromkeys(named) if name not in terminals],
    }
    told = [f"{', '.join(names)} ({how})" for how, names in wrong.items() if names]
    if told:
        raise Told(
            "isolated does not place each terminal once",
            "every terminal of the unit in exactly one group",
            "; ".join(told),
            "write each terminal into one group",
        )


def lacking(what: str, name: str, terminals: tuple[str, ...], owner: str) -> Told:
    """Return the refusal of a terminal that a unit or cap does not have."""
    return Told(
        f"{what} names terminal {name!r}, which this {owner} lacks",
        f"one of its terminals: {', '.join(terminals) or 'it has none'}",
        way_out=f"correct the name, or add {name} to its terminals",
    )
