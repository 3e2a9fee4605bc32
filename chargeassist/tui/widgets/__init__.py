"""The parts of the dashboard; each draws one thing from the scene."""
