"""Takes the pictures of README.md from the running program. Run it with the venv’s Python."""

import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

sys.path.append(str(Path(__file__).parents[1] / "tests" / "support"))

from chromium_program import chromium_program

PORT = 8198
URL = f"http://localhost:{PORT}"
IMAGES = Path(__file__).parents[1] / "docs" / "images"
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking")


def main() -> None:
    """Serve the demo sessions and take pictures of the pages that a reader should see first."""
    IMAGES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as data:
        lowside = [sys.executable, "-m", "lowside"]
        subprocess.run([*lowside, "demo", "--data", data], check=True)
        command = [*lowside, "serve", "--no-qr", "--port", str(PORT), "--data", data]
        server = subprocess.Popen(command)
        try:
            wait_until_up()
            with sync_playwright() as playwright:
                path = chromium_program()
                browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
                take(browser)
                browser.close()
        finally:
            server.terminate()
            server.wait()


def wait_until_up() -> None:
    """Wait until the server answers, at most half a minute."""
    give_up = time.monotonic() + 30.0
    while True:
        try:
            urllib.request.urlopen(URL + "/health", timeout=5).close()
        except (urllib.error.URLError, ConnectionError):
            if time.monotonic() > give_up:
                raise
            time.sleep(0.1)
        else:
            return


def take(browser: Browser) -> None:
    """Phone pictures by day and by night, and the office's session page."""
    for scheme in ("light", "dark"):
        context = browser.new_context(
            viewport={"width": 360, "height": 740},
            is_mobile=True,
            has_touch=True,
            color_scheme=scheme,  # type: ignore[arg-type]
        )
        page = context.new_page()
        page.goto(URL)
        page.get_by_text("AC-5 gym").click()
        page.wait_for_selector(".page-charge")
        page.screenshot(path=IMAGES / f"charge-{scheme}.png")
        page.goto(page.url + "/step/purge_low")
        page.locator(".hose-panel").scroll_into_view_if_needed()
        page.screenshot(path=IMAGES / f"hoses-{scheme}.png")
        context.close()
    office = browser.new_page(viewport={"width": 1100, "height": 760})
    office.goto(URL + "/office?show=all")
    office.get_by_text("Garden unit").click()
    office.wait_for_selector("#chart canvas")
    office.screenshot(path=IMAGES / "office.png")


if __name__ == "__main__":
    main()
