"""Take the README's pictures anew from the demo workshop: ``python -m tests.screenshots``.

Needs Chromium. The demo is built in a temporary folder, served on this machine alone, and looked at
in a phone's and a desk's size.
"""

import tempfile
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright
from sqlalchemy import select

from defectlog.bench.before_after import compare_photos, earlier_photos
from defectlog.bench.suggestions import suggestions
from defectlog.demo.shop import ensure_demo
from defectlog.records import Finding, Measurement, Outcome, Photo, PhotoStage
from defectlog.web import create_app
from tests.browser.conftest import FLAGS, system_chromium
from tests.serving import serving

OUT = Path(__file__).parent.parent / "static" / "screenshots"
PHONE = {"viewport": {"width": 390, "height": 780}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1280, "height": 800}}


def main() -> None:
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(ensure_demo(Path(folder) / "demo", lambda share, words: None))
        with serving(app) as address, sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=system_chromium(), args=list(FLAGS))
            take(browser, address, pages(app))
            browser.close()


def pages(app) -> dict[str, str]:
    """What is shown, by the name of its picture."""
    records, store = app.extensions["defectlog"]
    with records.read() as session:
        finding = session.scalars(select(Finding).where(Finding.outcome == Outcome.OPEN)).first()
        # The build with most void since the last months shows best what is counted.
        measured = session.scalars(
            select(Measurement)
            .where(Measurement.id > 20, Measurement.region.is_not(None))
            .order_by(Measurement.void_fraction.desc())
        ).first()
        offered = next(m for m in session.scalars(select(Measurement)) if suggestions(session, m))
        assert measured and finding
        repaired = session.scalars(select(Photo).where(Photo.stage == PhotoStage.REPAIRED))
        after, before = next(
            (after, before)
            for after in repaired
            for before in earlier_photos(after)
            if before.marks
            and compare_photos(session, store, after.id, before.id).alignment is not None
        )
        return {
            "bench": "/",
            "build": f"/builds/{measured.photo.build_id}",
            "run": f"/builds/{finding.build_id}/run",
            "room": f"/photos/{measured.photo_id}",
            "suggested": f"/photos/{offered.photo_id}",
            "before-after": f"/photos/{after.id}/before/{before.id}/",
            "photos": "/photos/",
            "finding": f"/findings/{finding.id}",
            "which": "/guide/which",
            "trends": "/trends/",
            "compare": "/trends/compare/",
            "trial": "/trials/1",
        }


def take(browser: Browser, address: str, shown: dict[str, str]) -> None:
    for device, context in (("phone", PHONE), ("desk", DESK)):
        page = browser.new_context(**context).new_page()
        for name, path in shown.items():
            page.goto(address + path)
            page.wait_for_load_state("networkidle")
            if name == "room":
                open_result(page, device)
            elif name == "suggested":
                open_suggestions(page, device)
            page.screenshot(path=OUT / f"{name}-{device}.jpg", type="jpeg", quality=80)
            print(f"{name}-{device}")
        page.context.close()


def open_result(page: Page, device: str) -> None:
    """The photo with what was counted laid over it."""
    page.wait_for_selector("#room.is-ready")
    if device == "desk":
        page.locator("#counted").click()
    page.wait_for_timeout(2000)


def open_suggestions(page: Page, device: str) -> None:
    """The photo with what its measurement suggests to mark."""
    page.wait_for_selector("#room.is-ready")
    if device == "phone":
        page.locator("#open-marks").tap()
    page.locator("#suggested").scroll_into_view_if_needed()
    page.wait_for_timeout(2000)


if __name__ == "__main__":
    main()
