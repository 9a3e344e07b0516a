"""What can go wrong with the books. Every message says what to do.

BooksError
    BooksUnavailable    cannot be opened, read or written now
        BooksFull       no room on the disk
        BooksDamaged    what is on the disk cannot be read any more
    NotADayBook         the file is something else, or was written by a newer version
    BadBackup           a file to restore from is not a whole backup
    AlreadyReplaced     the entry was corrected or taken out before
    BadFile (ValueError)  a file to import is not as it should be
"""


class BooksError(Exception):
    """The root of what can go wrong with the books."""


class BooksUnavailable(BooksError):
    """The books cannot be opened, read or written now; nothing was entered."""


class BooksFull(BooksUnavailable):
    """There is no room left on the disk; nothing was entered."""


class BooksDamaged(BooksUnavailable):
    """The disk gives back something else than was written; a backup is needed."""


class NotADayBook(BooksError):
    """The file is not a day-book that this version can read."""


class BadBackup(BooksError):
    """A file to restore from is not a whole backup, or a backup cannot be written."""


class AlreadyReplaced(BooksError):
    """The entry does not stand any more: a newer one has taken its place."""


class BadFile(BooksError, ValueError):
    """A file to import is not as it should be; the message names the place and what to write there."""
