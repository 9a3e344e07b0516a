"""Phone numbers as they may stand in logs and alarms."""


def shortened(number: str) -> str:
    """A number that its owner's farm recognizes and nobody can call: `+4477...102`."""
    return f"{number[:5]}...{number[-3:]}" if len(number) > 10 else f"{number[:2]}..."
