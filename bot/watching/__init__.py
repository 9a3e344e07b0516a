"""How the house is doing, for the operator: figures to be collected, and one log line a text. Never a text, number or name."""
