import shutil

import pytest


@pytest.fixture(scope="session")
def browser():
    """Headless Chromium, driven through the system's chromedriver; nothing is fetched."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    driver, chromium = shutil.which("chromedriver"), shutil.which("chromium") or shutil.which("google-chrome")
    if not driver or not chromium:
        pytest.skip("chromium and chromedriver are not installed")
    options = webdriver.ChromeOptions()
    options.binary_location = chromium
    for flag in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
                 "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage", "--window-size=1280,1800"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    browser = webdriver.Chrome(options=options, service=Service(driver))
    browser.set_script_timeout(30)
    yield browser
    browser.quit()


@pytest.fixture
def page(browser):
    browser.get("about:blank")
    return browser
