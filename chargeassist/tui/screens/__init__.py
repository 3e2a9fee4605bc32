"""The board and the questions that come over it."""
