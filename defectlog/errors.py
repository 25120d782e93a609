"""What a person can cause or cure, each said in one sentence that tells what to do."""

# What is kept in the bin for a while once it is deleted.
BINNED = ("photo", "finding", "mark", "build")


class DefectlogError(Exception):
    """What is so, and what to do about it: one sentence a maker can act on.

    Raise a subclass; never this class, never a bare ``Exception``. Its data
    sits on attributes, so that a screen can link to what it names. It knows
    no HTTP status and no exit code: the faces decide those.
    """

    what: str
    do: str

    def __init__(self, what: str, do: str) -> None:
        super().__init__(what, do)
        self.what = what
        self.do = do

    def __str__(self) -> str:
        return f"{self.what}: {self.do}."


class NotFoundError(DefectlogError):
    """Something was asked for by a number or key that is not in the records."""

    def __init__(self, thing: str, key: object) -> None:
        self.thing = thing
        self.key = key
        do = "check the address, or start from the Bench"
        if thing in BINNED:
            do = "if it was deleted, it may lie in the bin; else check the address"
        super().__init__(f"There is no {thing} {key}", do)


class FieldError(DefectlogError):
    """One field of a form or one option of a command holds what it cannot hold."""

    def __init__(self, field: str, what: str, do: str) -> None:
        self.field = field
        super().__init__(what, do)


class FormError(DefectlogError):
    """One or more fields of a form were not accepted; nothing was saved."""

    def __init__(self, faults: "list[FieldError]") -> None:
        self.faults = tuple(faults)
        count = len(self.faults)
        super().__init__(
            "Nothing was saved, one field needs another look"
            if count == 1
            else f"Nothing was saved, {count} fields need another look",
            "; ".join(str(fault).rstrip(".") for fault in self.faults),
        )


class ChangedMeanwhileError(FormError):
    """What a form was opened on has been changed from another screen since."""
