"""Why something cannot be done: raised where nobody's language is known, said where it is."""

from bot.speech.language import Later, Tongue


class Refusal(ValueError):
    """The message, in English as `str`, says what to do; its values may be messages too."""

    def __init__(self, message: str, **values: object) -> None:
        super().__init__(message.format(**values))
        self.message, self.values = message, values

    def said(self, speech: Tongue) -> str:
        """The message in a language."""
        values = {name: speech.say(each) if isinstance(each, Later) else each for name, each in self.values.items()}
        return speech.say(self.message, **values)
