"""Channels, events, units, the job and errors. Standard library only."""
