"""A package's descriptor, changed and sealed again."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any


def descriptor(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return found


def change_descriptor(folder: Path, change: Callable[[dict[str, Any]], object]) -> None:
    found = descriptor(folder)
    change(found)
    (folder / "datapackage.json").write_text(json.dumps(found), encoding="utf-8")


def reseal(folder: Path) -> None:
    """Make sizes and hashes of the descriptor agree with the tables, as a forger would."""

    def change(found: dict[str, Any]) -> None:
        for resource in found["resources"]:
            data = (folder / resource["path"]).read_bytes()
            resource["bytes"] = len(data)
            resource["hash"] = f"sha256:{hashlib.sha256(data).hexdigest()}"

    change_descriptor(folder, change)
