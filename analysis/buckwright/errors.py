"""The exception tree. Every message says what is wrong, where, and what to do about it."""

__all__ = ["BuckwrightError", "Cancelled", "InputError", "JobError", "MeshError", "OutputError", "SolidError"]


class BuckwrightError(Exception):
    """Root of every error that this library raises on purpose."""


class InputError(BuckwrightError, ValueError):
    """An input cannot be used; the message says how to fix it."""


class MeshError(InputError):
    """A sculpt cannot be read or made into a solid."""


class JobError(InputError):
    """A setting is unknown, of the wrong kind or out of range."""


class SolidError(BuckwrightError):
    """A solid operation returned an empty or broken result."""


class OutputError(BuckwrightError, OSError):
    """A result could not be written; no half-written file is left behind."""


class Cancelled(BuckwrightError):  # noqa: N818  (it is no error that the user stops the work)
    """The user asked to stop."""
