"""The image and the small installation speak of files, variables and commands that exist."""

import importlib
import re

import pytest
import yaml

from coaching.stack.folders import PROJECT

COMPOSE = yaml.safe_load((PROJECT / "compose.yaml").read_text())
APPLICATION = ["web", "worker", "ticker", "migrate"]


@pytest.mark.parametrize("service", APPLICATION)
def test_every_variable_that_is_passed_is_one_that_the_settings_read(service: str) -> None:
    settings = (PROJECT / "coaching" / "settings.py").read_text()
    passed = COMPOSE["services"][service]["environment"]
    assert {name for name in passed if f'"{name}"' not in settings} == set()


@pytest.mark.parametrize("service", ["web", "worker", "ticker"])
def test_only_migrations_know_the_owner_of_the_tables(service: str) -> None:
    assert "ballast_owner" not in str(COMPOSE["services"][service])
    assert "ballast_owner" in COMPOSE["services"]["migrate"]["environment"]["DATABASE_OWNER_URL"]
    assert (
        COMPOSE["services"][service]["depends_on"]["migrate"]["condition"] == "service_completed_successfully"
    )


def test_no_secret_has_a_value_that_somebody_could_forget_to_change() -> None:
    text = (PROJECT / "compose.yaml").read_text()
    for name in ("SECRET_KEY", "POSTGRES_PASSWORD", "BALLAST_OWNER_PASSWORD", "BALLAST_APP_PASSWORD"):
        uses = re.findall(rf"\$\{{{name}[^}}]*\}}", text)
        assert uses and all(use == f"${{{name}:?set {name}}}" for use in uses)


@pytest.mark.parametrize("service", sorted(COMPOSE["services"]))
def test_what_is_mounted_from_the_tree_is_there(service: str) -> None:
    for volume in COMPOSE["services"][service].get("volumes", []):
        source = volume.split(":")[0]
        assert not source.startswith("./") or (PROJECT / source).is_file()
        assert source.startswith("./") or source in COMPOSE["volumes"]


@pytest.mark.parametrize("service", ["postgres", "redis", "web", "worker", "ticker"])
def test_every_lasting_service_says_whether_it_is_well(service: str) -> None:
    assert COMPOSE["services"][service]["healthcheck"]["test"][0].startswith("CMD")


def test_the_image_copies_what_is_there_and_all_that_the_application_is() -> None:
    copied = re.findall(r"^COPY (?!--from)(\S+)", (PROJECT / "Dockerfile").read_text(), re.MULTILINE)
    assert [name for name in copied if not (PROJECT / name).exists()] == []
    assert {"athletes", "coaching", "programs", "templates", "fixtures", "manage.py"} <= set(copied)


def test_the_image_runs_as_nobody_in_particular_and_starts_an_application_that_exists() -> None:
    lines = (PROJECT / "Dockerfile").read_text().splitlines()
    user = next(number for number, line in enumerate(lines) if line == "USER ballast")
    assert user < next(number for number, line in enumerate(lines) if line.startswith("CMD"))
    module, name = re.search(r'"(coaching\.wsgi):(\w+)"', "\n".join(lines)).groups()
    assert callable(getattr(importlib.import_module(module), name))
