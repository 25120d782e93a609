"""Several at once: photos that wait their turn hold up neither pages nor saving."""

import io
import threading

from flask import Flask
from PIL import Image

from defectlog.bench import intake
from tests.builders import NOON


def jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (80, 60), "grey").save(out, "JPEG")
    return out.getvalue()


def test_while_photos_wait_others_look_and_save(app: Flask) -> None:
    from defectlog.bench.builds import start_build
    from defectlog.bench.parts import PartPlan, save_part
    from defectlog.web.records import transaction

    with app.app_context(), transaction() as session:
        number = start_build(session, save_part(session, PartPlan("Hatch")).id, NOON).id
    go_on = threading.Event()
    # Both threads that read photos are taken, as by two of 64 megapixels.
    taken = [intake._READING.submit(go_on.wait, 60) for _ in range(2)]
    statuses: list[int] = []

    def hand_in() -> None:
        form = {"photos": (io.BytesIO(jpeg()), "a.jpg")}
        path = f"/builds/{number}/photos"
        answer = app.test_client().post(path, data=form, headers={"Accept": "application/json"})
        statuses.append(answer.status_code)

    waiting = [threading.Thread(target=hand_in) for _ in range(3)]
    for thread in waiting:
        thread.start()
    try:
        # All three are in, up to the point where they wait.
        while intake._READING._work_queue.qsize() < 3:
            assert any(thread.is_alive() for thread in waiting)
        client = app.test_client()
        assert client.get(f"/builds/{number}").status_code == 200
        assert client.post("/workshop/parts/new", data={"name": "Bulkhead"}).status_code == 303
        assert statuses == []
    finally:
        go_on.set()
    for thread in waiting:
        thread.join()
    assert all(future.result() for future in taken)
    assert sorted(statuses) == [200, 200, 201]  # the same photo three times is one
