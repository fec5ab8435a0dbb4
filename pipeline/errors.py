"""The few reasons to stop. Everything that can be wrong with a partner's data is a Fault instead."""


class Stop(Exception):
    """Work cannot go on; the message says what happened and what to do. `exit_code` tells a scheduler which."""

    exit_code = 1


class BadUsage(Stop):
    """The command, or one of the programme's own files, is not as it must be."""

    exit_code = 2


class NothingAgreed(BadUsage):
    """Nothing may be published yet: nobody agreed, or nothing that stands was told by those who did."""


class KeptBack(BadUsage):
    """An archive that may not leave as it is: a planting would be published as wild, or repositories would drop rows."""

    exit_code = 7


class LedgerDamaged(Stop):
    """The ledger does not hold together; nothing is read from it or added to it until that is settled."""

    exit_code = 4


class Busy(Stop):
    """Another run holds the ledger and did not let go in time."""

    exit_code = 5


class Hindered(Stop):
    """The world got in the way: a full disk, a folder that may not be written, too little memory."""

    exit_code = 6


class ProjectionDamaged(Hindered):
    """What was made from the ledger cannot be read; it can be made anew from it."""
