"""How the figure of a measurement was made: a page with the photo itself as the example."""

from flask import Blueprint, Response, render_template
from flask.typing import ResponseReturnValue

from defectlog.bench.how_made import how_made
from defectlog.bench.how_pictures import step_jpeg
from defectlog.bench.measuring import find_measurement
from defectlog.web.records import reading, store

bp = Blueprint("how", __name__, url_prefix="/photos")


@bp.get("/<int:number>/measurements/<int:measurement>/how")
def show(number: int, measurement: int) -> ResponseReturnValue:
    """The steps from the photo to the figure."""
    measured = find_measurement(reading(), measurement, number)
    return render_template(
        "photos/how.html",
        photo=measured.photo,
        measured=measured,
        how=how_made(measured, store()),
    )


@bp.get("/<int:number>/measurements/<int:measurement>/how/<step>.jpg")
def picture(number: int, measurement: int, step: str) -> Response:
    """The picture of one step."""
    measured = find_measurement(reading(), measurement, number)
    response = Response(step_jpeg(measured, store(), step), mimetype="image/jpeg")
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response
