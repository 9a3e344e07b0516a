"""What the operator can do from a shell: one module a subject, gathered by `bot.cli`."""
