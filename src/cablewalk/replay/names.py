"""The register of every id in a baseline: what it is and where it stands."""

from __future__ import annotations

from dataclasses import dataclass, field

from cablewalk.files.wording import spoken
from cablewalk.findings import Address, Findings, Path, nearest

PLURALS = {"half": "halves", "switch": "switches", "person": "people"}


@dataclass(slots=True)
class Names:
    """Ids by kind, with the address of each; an id is unique over all kinds.

    A leg and the free half at its end share one id, as do a harness's ``self`` names.
    """

    findings: Findings
    document: int = 0
    addresses: dict[str, Path] = field(default_factory=dict)
    kinds: dict[str, str] = field(default_factory=dict)

    def add(self, kind: str, name: str, path: Path) -> bool:
        """Register an id; a second use of it is a finding, and is refused."""
        if name in self.kinds:
            self.findings.error(
                "duplicate-id",
                Address(self.document, path),
                f"{name} names a {kind} here, and a {self.kinds[name]} already",
                expected="each id once in the whole baseline",
                difference=f"the other stands at {spoken(self.addresses.get(name, ()))}",
                way_out="rename one of the two",
            )
            return False
        self.kinds[name] = kind
        self.addresses[name] = path
        return True

    def ids(self, *kinds: str) -> list[str]:
        """Return the ids of these kinds, in document order."""
        return [name for name, kind in self.kinds.items() if kind in kinds]

    def check(self, name: str, kinds: tuple[str, ...], path: Path) -> bool:
        """Return whether ``name`` is of one of these kinds; if not, that is a finding."""
        found = self.kinds.get(name)
        if found in kinds:
            return True
        wanted = " or ".join(kinds)
        if found is None:
            text = f"there is no {wanted} {name}"
        else:
            text = f"{name} is a {found}, not a {wanted}"
        self.findings.error(
            "unknown-id",
            Address(self.document, path),
            text,
            expected=f"the id of a {wanted}",
            way_out=nearest(name, self.ids(*kinds), most=3),
        )
        return False
