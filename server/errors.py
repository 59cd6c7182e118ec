"""Every way in which Isokom says no. Domains raise these; web/failure.py turns them into one answer shape."""


class Failure(Exception):
    """Base of all refusals: a stable code, one plain sentence, and the values behind it."""

    code = "failure"

    def __init__(self, message: str, *, code: str | None = None, **details):
        super().__init__(message)
        self.message = message
        self.code = code or self.code
        self.details = details


class Missing(Failure):
    """What was asked for is not here."""

    code = "missing"


class BadComposition(Failure):
    """An analysis that cannot be read; `field` names the place."""

    code = "bad_composition"


class OutOfBounds(Failure):
    """A model was asked outside its bounds."""

    code = "out_of_bounds"


class Refused(Failure):
    """An entry or request that cannot be accepted as it stands."""

    code = "refused"


class Differs(Failure):
    """The same id came again with other content."""

    code = "differs"


class Unavailable(Failure):
    """The bench book cannot be read or written now (disk full, file locked, folder unwritable)."""

    code = "unavailable"


class Damaged(Unavailable):
    """The bench book is no longer what was written."""

    code = "book_damaged"


class NewerDatabase(Unavailable):
    """The bench book was written by a newer Isokom."""

    code = "newer_database"
