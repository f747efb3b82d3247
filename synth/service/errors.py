"""What the service refuses, each with the status that HTTP has for it."""

from collections.abc import Sequence

from synth.core.errors import StowfrontError


class Refused(StowfrontError):  # noqa: N818  (told to people as a sentence)
    """A request that cannot be granted. status: of HTTP; title: the kind of refusal in a few words; faults: (field,
    sentence) for each thing wrong; after_s: when to try again, if that may help."""

    status, title = 400, "Request refused"

    def __init__(self, detail: str, faults: Sequence[tuple[str, str]] = (), after_s: int | None = None) -> None:
        super().__init__(detail)
        self.detail, self.faults, self.after_s = detail, tuple(faults), after_s


class Unauthenticated(Refused):
    """No token, or one that is not known."""

    status, title = 401, "Token needed"


class Forbidden(Refused):
    """The token's scope does not reach so far, or the request comes from a foreign page."""

    status, title = 403, "Not allowed"


class NotFound(Refused):
    """There is no such job, candidate or file."""

    status, title = 404, "Not found"


class Conflict(Refused):
    """The job's state does not allow it."""

    status, title = 409, "State does not allow it"


class TooLarge(Refused):
    """A body beyond the limit."""

    status, title = 413, "Body too large"


class WrongType(Refused):
    """A body of a type that is not read."""

    status, title = 415, "Type of body not read"


class Wrong(Refused):
    """The content is wrong; faults name the fields."""

    status, title = 422, "Input is wrong"


class TooMany(Refused):
    """Too many requests or jobs."""

    status, title = 429, "Too many"


class Unavailable(Refused):
    """The service cannot do it now: its database or disk is away."""

    status, title = 503, "Not available now"
