"""Which build of the program this is: plain Python, or with its core compiled."""

from importlib.machinery import ExtensionFileLoader, PathFinder

import chargeassist


def is_compiled() -> bool:
    """Return whether the core is compiled, without importing it."""
    folders = [f"{folder}/guide" for folder in chargeassist.__path__]
    found = PathFinder.find_spec("assistant", folders)
    return found is not None and isinstance(found.loader, ExtensionFileLoader)


def software() -> str:
    """Return name, version and build of this program, as written into every record."""
    return f"chargeassist {chargeassist.__version__}" + (" (compiled)" if is_compiled() else "")
