"""Why a paper cannot be made."""

from bot.speech.refusal import Refusal


class PaperRefused(Refusal):
    """The message says what to change."""
