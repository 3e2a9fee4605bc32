"""The Textual dashboard. Nothing below this package knows a screen exists."""
