"""What can go wrong on this machine. Every text says what, where, what was kept, what to do.

AntedateError
├── BadMatter        matter.toml, by line and key
├── BadAddress       an address to capture that is none
├── NoMatter         no matter at that folder
├── StoreLocked      another program holds the database
├── StoreTooNew      written by a newer version of the program
├── StoreDamaged     a file of the matter does not read as it was written
├── RunInProgress    two runs of one matter never overlap
├── BadFile          a file handed in can't be taken in as a whole
├── DiskFull         nothing more can be written
└── NotFound         no such reference, run or number
    └── NothingSearched  no run yet
"""

from __future__ import annotations


class AntedateError(Exception):
    """An error the user can act on; shown without a traceback, exit code 2."""


class BadMatter(AntedateError):
    """matter.toml can't be used as it stands."""


class BadAddress(AntedateError):
    """An address to capture is none that is fetched."""


class NoMatter(AntedateError):
    """There is no matter at that folder."""


class StoreLocked(AntedateError):
    """Another program holds the database."""


class StoreTooNew(AntedateError):
    """The database was written by a newer version."""


class StoreDamaged(AntedateError):
    """A file of the matter does not read as it was written."""


class RunInProgress(AntedateError):
    """Another run of this matter is going on."""


class DiskFull(AntedateError):
    """Nothing more can be written."""


class NotFound(AntedateError):
    """Nothing goes by that name here."""


class NothingSearched(NotFound):
    """No run was made yet, so there is nothing to read."""


class BadFile(AntedateError):
    """A file handed in can't be taken in as a whole."""
