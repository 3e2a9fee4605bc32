"""Scenarios: what a training session simulates, by one TOML file, and running it to its end."""
