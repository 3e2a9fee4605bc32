"""The stages in which the unit does not run, and the checks beside the charge."""
