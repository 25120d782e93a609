"""Browsers on the workshop network, as the open app sees them: an address, cookies, form tokens."""

import re
from datetime import UTC, datetime
from typing import Any

from flask import Flask
from werkzeug.test import TestResponse

from defectlog.bench.passphrase import set_passphrase
from defectlog.bench.people import let_in
from defectlog.records import CameBy, Device, Role

PASSPHRASE = "tide lamp rudder glue"
ON_WIFI = "192.168.1.77"
BASE = "http://localhost"
_TOKEN = re.compile(r'name="csrf-token" content="([^"]+)"')


class Browser:
    """One browser. ``base`` is what stands in its address bar, ``address`` where it is."""

    def __init__(self, app: Flask, *, address: str = ON_WIFI, base: str = BASE) -> None:
        self.app, self.base = app, base
        self.client = app.test_client()
        self.client.environ_base["REMOTE_ADDR"] = address

    def get(self, path: str, **more: Any) -> TestResponse:
        return self.client.get(path, base_url=self.base, **more)

    def token(self, page: str) -> str:
        return _TOKEN.search(self.get(page).text)[1]

    def post(self, path: str, data: dict[str, str], *, page: str = "/enter") -> TestResponse:
        """Send a form of a page, as a browser does: with the page's token and its origin."""
        form = {"csrf_token": self.token(page), **data}
        return self.bare_post(path, form)

    def bare_post(self, path: str, data: dict[str, str], **headers: str) -> TestResponse:
        sent = {"Origin": self.base, "Referer": f"{self.base}/", **headers}
        return self.client.post(path, base_url=self.base, data=data, headers=sent)

    def carry(self, key: str) -> "Browser":
        """Have the key of a device that was let in."""
        secure = self.base.startswith("https")
        name = "__Host-defectlog-key" if secure else "defectlog-key"
        self.client.set_cookie(name, key, domain="localhost", secure=secure)
        return self


def keep_passphrase(app: Flask, words: str = PASSPHRASE) -> None:
    with app.extensions["defectlog"][0].write() as session, session.begin():
        set_passphrase(session, words, at=datetime.now(UTC))


def admit(
    app: Flask, role: Role = Role.MAKER, came_by: CameBy = CameBy.PAIRING, *, name: str = "Phone"
) -> tuple[int, str]:
    """Let a device in by the records alone; its number and its key."""
    with app.extensions["defectlog"][0].write() as session, session.begin():
        device, key = let_in(session, name, role, came_by, at=datetime.now(UTC))
        return device.id, key


def device(app: Flask, number: int) -> Device:
    with app.extensions["defectlog"][0].read() as session:
        return session.get(Device, number)
