"""Do requirements.txt and requirements-dev.txt still say what pyproject.toml asks for?

Compares names and permitted versions, never what the registry offers today: a newer release cannot fail it. Which
packages the direct ones need in turn is read from what is installed, so it needs no network. Pins for other systems
are left to `make lock`, which makes them all.
"""

import re
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
PIN = re.compile(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)(?:\s*;\s*(.*?))?\s*(\\)?$")


def read_pins(text: str) -> tuple[dict[str, str], list[str]]:
    """The versions pinned for this system, by name, and what is wrong with the lines themselves."""
    pins, faults = {}, []
    if "://" in text or re.search(r"^\s*-(?!-hash)", text, re.MULTILINE):
        faults.append("holds an address or an option; only names, versions and hashes belong there")
    blocks = re.findall(r"^[A-Za-z0-9].*(?:\n\s+.*)*", text, re.MULTILINE)
    for block in blocks:
        found = PIN.match(block.splitlines()[0])
        if not found or "--hash=sha256:" not in block:
            faults.append(f"has no exact version with hashes in: {block.splitlines()[0]}")
            continue
        name, version, marker, _ = found.groups()
        if not marker or Requirement(f"{name}; {marker}").marker.evaluate():
            pins[canonicalize_name(name)] = version
    return pins, faults


def list_direct(project: dict, group: str | None) -> list[Requirement]:
    """What pyproject.toml names: the application's own, and with a group, that group's and those it includes."""
    direct = [Requirement(line) for line in project["project"]["dependencies"]]

    def add_group(name: str) -> None:
        for line in project["dependency-groups"][name]:
            if isinstance(line, str):
                direct.append(Requirement(line))
            else:
                add_group(line["include-group"])

    if group:
        add_group(group)
    return direct


def compare(direct: list[Requirement], pins: dict[str, str]) -> list[str]:
    """Each direct requirement and all it needs is pinned within what is permitted, and nothing else is pinned."""
    faults, reached, waiting = [], set(), [(requirement, "pyproject.toml") for requirement in direct]
    while waiting:
        requirement, asker = waiting.pop()
        name = canonicalize_name(requirement.name)
        version = pins.get(name)
        if version is None:
            faults.append(f"lacks {requirement}, which {asker} asks for")
        elif not requirement.specifier.contains(version, prereleases=True):
            faults.append(f"pins {name} {version}, and {asker} asks for {requirement}")
        if version is None or (name, frozenset(requirement.extras)) in reached:
            continue
        reached.add((name, frozenset(requirement.extras)))
        try:
            needs = distribution(name).requires or []
        except PackageNotFoundError:
            faults.append(f"pins {name}, which is not installed; run make again")
            continue
        for need in map(Requirement, needs):
            extras = requirement.extras or {""}
            if need.marker is None or any(need.marker.evaluate({"extra": extra}) for extra in {"", *extras}):
                waiting.append((need, name))
    unneeded = sorted(set(pins) - {name for name, _ in reached})
    return faults + [f"pins {name}, which nothing asks for" for name in unneeded]


def main() -> int:
    """Print what is wrong, one line each; 0 when nothing is."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    everything = []
    for file, group in (("requirements.txt", None), ("requirements-dev.txt", "dev")):
        pins, faults = read_pins((ROOT / file).read_text())
        faults += compare(list_direct(project, group), pins)
        everything += [f"{file} {fault}" for fault in faults]
    for line in everything:
        print(line)
    print("Run `make lock`." if everything else "The locked requirements are what pyproject.toml asks for.")
    return 1 if everything else 0


if __name__ == "__main__":
    sys.exit(main())
