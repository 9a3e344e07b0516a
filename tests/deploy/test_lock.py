"""What is deployed is pinned with hashes, fits pyproject.toml, and names no place that it comes from."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

TOP = Path(__file__).parents[2]
LOCK = (TOP / "deploy/requirements.lock").read_text(encoding="utf-8")
PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))
WANTED = [
    *PROJECT["project"]["dependencies"],
    *PROJECT["project"]["optional-dependencies"]["postgres"],
    *PROJECT["build-system"]["requires"],
]

#: The oldest Python that we promise, and the one of the container file.
PYTHONS = ("3.11.0", "3.12.0")
PINNED = re.compile(r"([a-z0-9-]+)==(\S+?)(?: ; (.+?))? \\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\\n|\n))+)")


def pins(python: str) -> dict[str, str]:
    """The version of each package for that Python on a machine with Linux."""
    machine = {"python_full_version": python, "python_version": python.rpartition(".")[0], "sys_platform": "linux"}
    kept = [each for each in PINNED.finditer(LOCK) if each[3] is None or Marker(each[3]).evaluate(machine)]
    assert len({each[1] for each in kept}) == len(kept)
    return {each[1]: each[2] for each in kept}


def test_every_line_is_a_version_with_the_hashes_of_its_files() -> None:
    assert "".join(each[0] for each in PINNED.finditer(LOCK)) == LOCK


def test_no_place_on_a_network_or_a_disk_is_named() -> None:
    assert not re.search(r"://|@|/|--(?!hash=sha256:)", LOCK)


@pytest.mark.parametrize("python", PYTHONS)
@pytest.mark.parametrize("wanted", WANTED)
def test_the_lock_fits_what_the_project_asks_for(wanted: str, python: str) -> None:
    requirement = Requirement(wanted)
    version = pins(python).get(canonicalize_name(requirement.name))

    assert version is not None, f"{requirement.name} is missing: run sh deploy/lock"
    assert requirement.specifier.contains(version), f"{requirement} has {version}: run sh deploy/lock"


@pytest.mark.parametrize("extra", ["binary", "pool"])
def test_what_postgresql_needs_is_pinned_too(extra: str) -> None:
    assert f"psycopg-{extra}" in pins(PYTHONS[0])


def test_the_container_installs_from_the_lock_alone() -> None:
    lines = (TOP / "deploy/Containerfile").read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    installs = [each for line in lines for each in line.split("&&") if "pip install" in each]

    assert len(installs) == 2
    assert "--require-hashes --requirement /source/deploy/requirements.lock" in installs[0]
    assert "--no-deps --no-build-isolation /source" in installs[1]
