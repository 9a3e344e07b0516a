"""The day-book store: what was said, what stands, and everything needed to answer; one whole transaction at a time."""

from bot.books.errors import AlreadyReplaced, BadFile, BooksError, BooksFull, BooksUnavailable, NotADayBook
from bot.books.store import Books, Transaction, open_books

__all__ = [
    "AlreadyReplaced",
    "BadFile",
    "Books",
    "BooksError",
    "BooksFull",
    "BooksUnavailable",
    "NotADayBook",
    "Transaction",
    "open_books",
]
