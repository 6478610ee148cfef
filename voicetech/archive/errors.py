"""What can go wrong with an archive of jobs."""


class ArchiveError(Exception):
    """The archive cannot be read or written; the message says why and what to do."""


class UnreachableError(ArchiveError):
    """The server of the archive does not answer, or does not let us in."""


class NewerLayoutError(ArchiveError):
    """A newer program wrote the archive."""


class DamagedError(ArchiveError):
    """The file is no archive, or it is damaged."""


class BusyError(ArchiveError):
    """Another program holds the archive and does not let go."""


class NotWritableError(ArchiveError):
    """The archive can be read at best."""


class NoSuchNameError(ArchiveError):
    """No job on record has what was asked for; the message says what there is."""
