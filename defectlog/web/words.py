"""Filters that templates share: dates as people say them, kinds by their titles."""

from datetime import datetime

from flask import Flask

from defectlog.bench.kinds import names_of
from defectlog.units import figure, measured_percent, percent, percent_range, plural, with_unit
from defectlog.web.records import reading


def day(moment: datetime) -> str:
    """``Wed 25 Nov 2026`` on this machine's calendar."""
    local = moment.astimezone()
    return f"{local:%a} {local.day} {local:%b %Y}"


def clock(moment: datetime) -> str:
    """``14:10`` on this machine's clock."""
    return f"{moment.astimezone():%H:%M}"


def kind_title(key: str) -> str:
    """The shown name of a kind; a key that is nowhere any more shows as it is."""
    return names_of(reading()).title(key)


def kind_code(key: str) -> str:
    """The two letters a kind carries on its marks."""
    return names_of(reading()).code(key)


def register(app: Flask) -> None:
    app.jinja_env.filters.update(
        day=day,
        clock=clock,
        kind_title=kind_title,
        kind_code=kind_code,
        figure=figure,
        with_unit=with_unit,
        measured_percent=measured_percent,
        percent=percent,
        percent_range=percent_range,
        plural=plural,
    )
