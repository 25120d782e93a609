"""Look the records over: every file against its hash, every record against its file, the database.

Nothing is changed. What is found is said with what to do about it.
"""

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, inspect, select, text
from sqlalchemy.exc import DatabaseError

from defectlog.bench.strays import is_on_its_way
from defectlog.bench.upkeep import VERIFIED, Kept, UpkeepNote, note_upkeep
from defectlog.errors import DefectlogError
from defectlog.photos.inventory import Inventory, hash_file, take_inventory
from defectlog.records import Decision, Finding, Measurement, Record, seal_of
from defectlog.records.guards import missing_guards
from defectlog.records.migrating import known_steps, newest_step, step_of
from defectlog.units import plural

FROM_BACKUP = "bring the records back from a backup with defectlog restore"
CLOCK_SLACK = timedelta(minutes=5)


class LockedRecordsError(DefectlogError):
    """Another program has held the records for longer than one waits."""

    def __init__(self) -> None:
        super().__init__(
            "Another program holds the records, they could not be read",
            "close it and try again; nothing was changed",
        )


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong: a word for a machine, what is so, and what to do."""

    about: str
    what: str
    do: str

    @property
    def words(self) -> str:
        return f"{self.what}: {self.do}."


@dataclass(frozen=True, slots=True)
class Verified:
    """What looking the records over showed. Sizes are in bytes."""

    faults: tuple[Fault, ...]
    remarks: tuple[str, ...]
    photos: int
    files: int
    bytes: int
    measurements: int

    @property
    def is_well(self) -> bool:
        return not self.faults

    @property
    def words(self) -> str:
        """``All is well: 3 photos …``, or how many things are wrong."""
        looked = (
            f"{plural(self.photos, 'photo')} and {plural(self.files, 'file')} "
            f"({self.bytes / 1e6:.1f} MB), {plural(self.measurements, 'measurement')}"
        )
        if self.is_well:
            return f"All is well: {looked} looked over."
        return f"{plural(len(self.faults), 'thing')} found wrong: {looked} looked over."

    def as_json(self) -> dict[str, Any]:
        return {
            "ok": self.is_well,
            "faults": [asdict(fault) for fault in self.faults],
            "remarks": list(self.remarks),
            "photos": self.photos,
            "files": self.files,
            "bytes": self.bytes,
            "measurements": self.measurements,
        }


def verify(kept: Kept, *, at: datetime, tell: Callable[[float], None] | None = None) -> Verified:
    """Look everything over and note when and with what result; ``tell`` hears the share done."""
    inventory = take_inventory(kept.store.originals.folder)
    found: list[Fault] = []
    remarks: list[str] = []
    hashed = _hash_all(inventory, tell)
    rows: list[tuple[int, int, str, str, int]] = []
    measured = 0
    try:
        with kept.records.engine.execution_options(writes=False).connect() as connection:
            found += _database(connection)
            step = step_of(kept.records.engine)
            if step not in known_steps():
                found.append(_unknown_step(step))
            else:
                rows = _photo_rows(connection)
                if step == newest_step():
                    found += _append_only(connection)
                    measured, sealed = _measurements(connection)
                    found += sealed
                    remarks += _clock(connection, at)
                else:
                    remarks.append(
                        f"The records stand at step {step}; the next start brings them up to date."
                    )
    except DatabaseError as error:
        if "locked" in str(error.orig):
            raise LockedRecordsError from error
        found.append(Fault("database", f"The records cannot be read ({error.orig})", FROM_BACKUP))
    else:
        named = {row[3] for row in rows}
        _look_again(kept, inventory, hashed, named)
        found += _files(kept.store.originals.folder, inventory, hashed, rows)
        stray = [f for sha, f in inventory.originals.items() if sha in hashed and sha not in named]
        settled = [file for file in stray if not is_on_its_way(file)]
        found += _strays(kept.store.originals.folder, settled)
        if coming := len(stray) - len(settled):
            remarks.append(
                f"{plural(coming, 'file')} of the last ten minutes had no record yet: an upload "
                "went on, or was cut off."
            )
    seen = Verified(
        tuple(found),
        tuple(remarks),
        len(rows),
        len(hashed),
        sum(size for _, size in hashed.values()),
        measured,
    )
    note_upkeep(kept.folder, VERIFIED, UpkeepNote(at, seen.is_well, seen.words))
    return seen


def _hash_all(
    inventory: Inventory, tell: Callable[[float], None] | None
) -> dict[str, tuple[str, int]]:
    """What each original really is, by the hash it is named for."""
    hashed = {}
    for number, (sha256, file) in enumerate(inventory.originals.items(), 1):
        try:
            hashed[sha256] = hash_file(file)
        except FileNotFoundError:  # taken out of the bin meanwhile
            continue
        if tell is not None:
            tell(number / len(inventory.originals))
    return hashed


def _look_again(
    kept: Kept, inventory: Inventory, hashed: dict[str, tuple[str, int]], spoken_of: set[str]
) -> None:
    """Photos taken in since the files were listed are no missing ones."""
    for sha256 in spoken_of - set(hashed):
        if kept.store.originals.exists(sha256):
            file = kept.store.originals.path(sha256)
            inventory.originals[sha256] = file
            hashed[sha256] = hash_file(file)


def _database(connection: Connection) -> Iterator[Fault]:
    """The database's own checks, and every reference to a row that is not there."""
    if connection.dialect.name == "sqlite":
        for line in connection.execute(text("PRAGMA integrity_check(20)")).scalars():
            if line != "ok":
                yield Fault("database", f"The database is damaged ({line})", FROM_BACKUP)
    tables = set(inspect(connection).get_table_names())
    for table in Record.metadata.sorted_tables:
        for key in table.foreign_keys:
            if {table.name, key.column.table.name} <= tables:
                yield from _dangling(connection, key)


def _dangling(connection: Connection, key: Any) -> Iterator[Fault]:
    child, target = key.parent, key.column
    columns = {c["name"] for c in inspect(connection).get_columns(child.table.name)}
    if child.name not in columns:
        return
    other = target.table.alias()
    names = [c.name for c in child.table.primary_key]
    lost = connection.execute(
        select(*child.table.primary_key)
        .outerjoin_from(child.table, other, child == other.c[target.name])
        .where(child.is_not(None), other.c[target.name].is_(None))
        .limit(20)
    )
    for row in lost:
        which = ", ".join(f"{name} {value}" for name, value in zip(names, row, strict=True))
        yield Fault(
            "reference",
            f"The {child.table.name} with {which} belongs to a {target.table.name} that is not "
            "in the records",
            FROM_BACKUP,
        )


def _photo_rows(connection: Connection) -> list[tuple[int, int, str, str, int]]:
    asked = text("SELECT id, build_id, name, sha256, bytes FROM photo ORDER BY id")
    return [tuple(row) for row in connection.execute(asked)]  # type: ignore[misc]


def _append_only(connection: Connection) -> Iterator[Fault]:
    for name in sorted(missing_guards(connection)):
        yield Fault(
            "append-only",
            f"The rule “{name}” that keeps records from being rewritten is not in force",
            "start defectlog once, it sets the rule again; find out what program took it away",
        )
    last: dict[int, Any] = {}
    for row in connection.execute(
        select(Decision.finding_id, Decision.outcome, Decision.reason).order_by(Decision.id)
    ):
        last[row.finding_id] = (row.outcome, row.reason)
    for row in connection.execute(
        select(Finding.id, Finding.outcome, Finding.reason, Finding.closed_at)
    ):
        decided = last.get(row.id)
        if decided is None and row.closed_at is None:
            continue
        if decided != (row.outcome, row.reason):
            was = f"“{decided[0].value}” was decided last" if decided else "nobody decided that"
            yield Fault(
                "append-only",
                f"Finding {row.id} says “{row.outcome.value}”, but {was}",
                f"it was changed behind defectlog's back: {FROM_BACKUP}",
            )


def _measurements(connection: Connection) -> tuple[int, list[Fault]]:
    """Every seal against what its measurement says now."""
    count, found = 0, []
    for row in connection.execute(select(Measurement.__table__)).mappings():
        count += 1
        if row["seal"] is not None and seal_of(row) != row["seal"]:
            found.append(
                Fault(
                    "append-only",
                    f"Measurement {row['id']} of photo {row['photo_id']} was changed after it "
                    "was made",
                    f"measure the photo again, or {FROM_BACKUP}",
                )
            )
    return count, found


def _clock(connection: Connection, at: datetime) -> Iterator[str]:
    received = connection.execute(text("SELECT MAX(received_at) FROM photo")).scalar()
    if received is None:
        return
    last = received if isinstance(received, datetime) else datetime.fromisoformat(received)
    if last.replace(tzinfo=last.tzinfo or at.tzinfo) > at + CLOCK_SLACK:
        yield "The clock of this machine is behind the newest photo: look whether it is set right."


def _unknown_step(step: str | None) -> Fault:
    if step is None:
        return Fault("database", "The database holds no tables of defectlog", FROM_BACKUP)
    return Fault(
        "database",
        f"The records are from a newer defectlog (step {step})",
        "install that version or a later one",
    )


def _files(
    folder: Path,
    inventory: Inventory,
    hashed: dict[str, tuple[str, int]],
    rows: list[tuple[int, int, str, str, int]],
) -> Iterator[Fault]:
    """Every record against its file, and every file against the records."""
    for number, build, name, sha256, size in rows:
        whose = f"Photo {number} of build {build} ({name})"
        if sha256 not in hashed:
            yield Fault(
                "missing-file",
                f"{whose} has no file, {sha256[:2]}/{sha256}.* is missing in {folder}",
                "put that file back from a backup, or send the same photo again",
            )
            continue
        really, bytes_now = hashed[sha256]
        if really != sha256:
            was = "" if bytes_now == size else f", {bytes_now} bytes instead of {size}"
            yield Fault(
                "changed-file",
                f"The file of {whose[0].lower() + whose[1:]} is not what was taken in{was}: "
                f"{inventory.originals[sha256].relative_to(folder)}",
                "put it back from a backup, or send the same photo again",
            )
        elif bytes_now != size:
            yield Fault(
                "changed-record",
                f"{whose} is on record with {size} bytes and its file has {bytes_now}",
                FROM_BACKUP,
            )
    for file in inventory.foreign:
        yield Fault(
            "foreign-file",
            f"The file {file.relative_to(folder)} is none of defectlog's",
            "move it out of the folder of the photos",
        )


def _strays(folder: Path, files: list[Path]) -> Iterator[Fault]:
    for file in files:
        yield Fault(
            "stray-file",
            f"No record speaks of the file {file.relative_to(folder)}",
            "taking it in was cut off; send the photo again, or set the file aside with "
            "defectlog verify --set-aside",
        )
