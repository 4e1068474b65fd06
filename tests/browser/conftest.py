"""A real browser, where there is one, and the hand-made results of the report tests."""

from __future__ import annotations

import shutil

import pytest


def _executable() -> str | None:
    for name in ("chromium", "chromium-browser", "google-chrome", "chrome"):
        found = shutil.which(name)
        if found:
            return found
    return None


@pytest.fixture(scope="session")
def browser():
    """A Chromium that may not use the network in the background."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    executable = _executable()
    if executable is None:
        pytest.skip("no Chromium on this machine")
    with sync_api.sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=executable, args=["--no-sandbox", "--disable-background-networking"]
        )
        yield chromium
        chromium.close()
