"""A demonstration: an invented cooperative with sixty days of history, told by its own people's texts.

The history is made by a seeded generator and goes through the same talk as any text; nothing is written into the books
behind its back.
"""

from bot.demonstration.fill import DEMONSTRATION_TEXTS, fill

__all__ = ["DEMONSTRATION_TEXTS", "fill"]
