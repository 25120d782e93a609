"""Looking for garbage is put off, and taken up again."""

import gc

import pytest

from defectlog.measure.arrays.memory import without_collecting


def test_no_garbage_is_looked_for_meanwhile():
    looked = []

    def note(phase: str, _: object) -> None:
        looked.append(phase)

    gc.callbacks.append(note)
    try:
        with without_collecting():
            kept = [(k,) for k in range(20 * gc.get_threshold()[0])]
            meanwhile = len(looked)
        kept += [(k,) for k in range(2 * gc.get_threshold()[0])]
    finally:
        gc.callbacks.remove(note)

    assert meanwhile == 0
    assert len(looked) > 0


@pytest.mark.parametrize("collects", [True, False])
def test_afterwards_it_is_as_it_was(collects):
    try:
        if not collects:
            gc.disable()
        with pytest.raises(KeyError), without_collecting():
            raise KeyError
        assert gc.isenabled() == collects
    finally:
        gc.enable()
