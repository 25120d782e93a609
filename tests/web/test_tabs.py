"""Every page says whose tab it lies under, so that nobody loses the way back.

The addresses are those of the app's own map, so that a new page is among them by itself.
"""

import re

from flask import Flask
from flask.testing import FlaskClient

from tests.web.test_door import path_of

OPEN_TAB = re.compile(r'aria-current="page">(\w+)</a>')


def test_every_page_opens_one_tab(app: Flask, client: FlaskClient) -> None:
    pages, without = set(), set()
    for rule in app.url_map.iter_rules():
        if "GET" not in rule.methods or rule.endpoint.startswith(("static", "entry.")):
            continue
        answer = client.get(path_of(rule))
        if answer.status_code == 200 and answer.mimetype == "text/html":
            pages.add(rule.endpoint)
            if len(OPEN_TAB.findall(answer.text)) != 1:
                without.add(rule.endpoint)

    assert {"own.new_cause", "own_fixes.new", "sharing.index"} <= pages
    assert without == set()
