"""Leases and calls are tried on both engines: `where` is where empty books can be made."""

from tests.books.conftest import postgres, server, where

__all__ = ["postgres", "server", "where"]
