"""The arithmetic of the rubber trade: pure functions, every constant with its unit, source and status."""
