"""The same thing done by several at once."""

import threading
from collections.abc import Callable
from typing import Any

from defectlog.errors import DefectlogError


def at_once(times: int, do: Callable[[int], Any]) -> list[Any]:
    """Do it in as many threads; what came of each, an error of ours included."""
    came: list[Any] = []
    gate = threading.Barrier(times)

    def one(n: int) -> None:
        gate.wait()
        try:
            came.append(do(n))
        except DefectlogError as error:
            came.append(type(error))

    threads = [threading.Thread(target=one, args=(n,)) for n in range(times)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return came
