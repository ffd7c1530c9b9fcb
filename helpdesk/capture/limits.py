"""What the words of a report brought in may be."""

STORY_LIMIT = 50_000  # characters
LEAST_LETTERS = 3
