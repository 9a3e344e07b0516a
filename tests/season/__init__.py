"""A whole season of an invented cooperative, played through the real doors by people who misbehave, and held against the truth."""
