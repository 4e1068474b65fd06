"""Options of the whole suite."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

os.environ["LEAKDOWN_SETTINGS"] = os.devnull  # nobody's own settings colour the tests
# hundreds of tests start the program: it is compiled once, also where an image says otherwise
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# On the build machine the same cases every time; at the bench new ones, so that fuzzing goes on finding.
settings.register_profile("build", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("build")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--full", action="store_true", help="run the long simulations whole instead of in short form")


@pytest.fixture(scope="session")
def full(request: pytest.FixtureRequest) -> bool:
    """True when the long form of the simulations is wanted."""
    return bool(request.config.getoption("--full"))
