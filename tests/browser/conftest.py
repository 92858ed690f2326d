"""One Chromium a module."""

import pytest

from tests.browser.browsing import FLAGS, chromium_path


@pytest.fixture(scope="module")
def chromium():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium_path(), args=FLAGS)
        yield browser
        browser.close()
