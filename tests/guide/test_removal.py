"""What the guide says of taking a peel ply off."""

import pytest

from defectlog.guide import library
from defectlog.guide.removal import FILE, read_removal, removal
from defectlog.guide.row import EntryError

TEXT = (library.HERE / "shared" / FILE).read_text("utf-8")


def read(tmp_path, text):
    path = tmp_path / FILE
    path.write_text(text, "utf-8")
    return read_removal(path, library.shared())


def test_every_claim_has_a_source_and_both_sides_of_every_dispute_are_told():
    said = removal()

    assert all(claim.sources for claim in said.why)
    assert all(dispute.one and dispute.other and dispute.sources for dispute in said.disputes)
    assert said.energy.low < said.energy.usual < said.energy.high


def test_a_step_with_a_hazard_needs_its_caution(tmp_path):
    text = TEXT.replace("sand the rest of it off with care. A thread", "sand it. A thread")
    assert 'cautions = ["dust"]' in text

    with pytest.raises(EntryError, match="dust"):
        read(tmp_path, text.replace('cautions = ["dust"]', "cautions = []"))


def test_a_misspelt_word_is_refused(tmp_path):
    with pytest.raises(EntryError):
        read(tmp_path, TEXT.replace("usual   = 300", "usuall  = 300"))


def test_a_source_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(EntryError, match="peel-ply-revue"):
        read(tmp_path, TEXT.replace("peel-ply-review", "peel-ply-revue"))
