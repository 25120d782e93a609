"""Builds, findings and photos as lines of a list: addresses and words, ready to be laid out."""

from collections.abc import Iterable
from dataclasses import dataclass

from flask import url_for

from defectlog.bench.limits import verdict
from defectlog.bench.long_lists import ready_for_list
from defectlog.bench.next_step import next_step
from defectlog.records import Build, Face, Finding, Photo, PhotoStage
from defectlog.web.build_words import count_words, open_count, state_words, void_words
from defectlog.web.intake import image_url
from defectlog.web.words import kind_code, kind_title


@dataclass(frozen=True, slots=True)
class BuildRow:
    """One build in a list; ``thumb`` is the address of a small picture, if there is one."""

    build: Build
    state: str
    counts: str
    thumb: str | None
    is_waiting: bool


def build_rows(builds: Iterable[Build]) -> list[BuildRow]:
    """Builds as the lines of a list."""
    return [
        BuildRow(
            build,
            state_words(build),
            count_words(build),
            image_url(build.photos[0], "thumb") if build.photos else None,
            open_count(build) > 0,
        )
        for build in builds
    ]


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One finding in a list, as the macro ``finding_row`` takes it."""

    url: str
    code: str
    title: str
    size: str
    standing: str
    next: str
    where: str


def finding_rows(findings: Iterable[Finding]) -> list[FindingRow]:
    """Findings as the lines of a list, each with its size against the limit and the next step."""
    rows = []
    for finding in ready_for_list(findings):
        judged = verdict(finding)
        rows.append(
            FindingRow(
                url_for("findings.show", number=finding.id),
                kind_code(finding.kind),
                kind_title(finding.kind),
                judged.words,
                judged.standing,
                next_step(finding),
                f"Build {finding.build_id} · {finding.build.part.name}",
            )
        )
    return rows


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """One photo under its build: where it leads, how it looks, what was measured on it."""

    url: str
    thumb: str
    face: str
    alt: str
    voids: str
    voids_more: str


@dataclass(frozen=True, slots=True)
class PhotoGroup:
    """The photos of one stage, by face."""

    stage: str
    photos: tuple[PhotoRow, ...]


def photo_groups(build: Build) -> list[PhotoGroup]:
    """The photos of a build in the order of the part's life, faces in their order within."""
    faces = list(Face)
    groups = []
    for stage in PhotoStage:
        taken = [photo for photo in build.photos if photo.stage is stage]
        taken.sort(key=lambda photo: (faces.index(photo.face), photo.id))
        if taken:
            groups.append(PhotoGroup(stage.value, tuple(map(_photo_row, taken))))
    return groups


def _photo_row(photo: Photo) -> PhotoRow:
    made = photo.measurement
    voids, more = void_words(made) if made else ("", "")
    return PhotoRow(
        url_for("photos.room", number=photo.id),
        image_url(photo, "thumb"),
        photo.face.value,
        f"{photo.face.value.capitalize()}, {photo.stage.value}: {photo.name}",
        voids,
        more,
    )
