"""The record of a session: its file, its hash chain, and its exchange form."""
