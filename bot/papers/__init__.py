"""Papers: what the day-book says as files that can be handed on. Tables, printed pages, whole books, a calendar."""
