"""Why a paper cannot be made."""


class PaperRefused(ValueError):
    """The message says what to change."""
