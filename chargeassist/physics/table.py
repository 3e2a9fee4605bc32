"""The shipped saturation table file: its form, its hash, and the reading of it.

The file is JSON, one refrigerant to a line. It names the CoolProp version that made it and its
own SHA-256, taken over the content in canonical form (keys sorted, no spaces, numbers as Python
writes them), so that line ends or indentation do not matter and any changed number does.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final

from chargeassist.model.errors import RecordDamagedError

FILE_NAME: Final = "saturation_table.json"
FORMAT: Final = "chargeassist saturation table"
FORMAT_VERSION: Final = 1
REMEDY: Final = "install chargeassist anew, or rebuild the file with the table builder"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableEntry:
    """One refrigerant as the file holds it.

    Attributes
    ----------
    name : str
        ANSI/ASHRAE 34 designation with a hyphen: "R-32".
    model : str
        "pure", "pseudo-pure" (one equation for the blend) or "mixture" (model of its parts).
    composition : tuple of (str, float)
        Components and mass fractions [kg/kg].
    low_pa_abs, high_pa_abs : float
        Pressure of the first and last node [Pa absolute].
    critical_pressure_pa_abs, critical_temp_k : float
        Critical point [Pa absolute], [K].
    bubble_temp_k, dew_temp_k : tuple of float
        Saturation temperatures at nodes uniform in ln p, shape (n,) [K].
    liquid_density_kg_per_m3 : tuple of float
        Density of the liquid at its bubble point, shape (n,) [kg/m3].
    """

    name: str
    model: str
    composition: tuple[tuple[str, float], ...]
    low_pa_abs: float
    high_pa_abs: float
    critical_pressure_pa_abs: float
    critical_temp_k: float
    bubble_temp_k: tuple[float, ...]
    dew_temp_k: tuple[float, ...]
    liquid_density_kg_per_m3: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SaturationTable:
    """The whole file, verified.

    Attributes
    ----------
    sha256 : str
        Hash over the canonical content, 64 hexadecimal digits.
    coolprop_version, coolprop_revision : str
        What computed the numbers.
    entries : mapping of str to TableEntry
        By designation.
    """

    sha256: str
    coolprop_version: str
    coolprop_revision: str
    entries: Mapping[str, TableEntry]


def content_hash(document: Mapping[str, Any]) -> str:
    """Return the SHA-256 of a table document, its own ``sha256`` entry left out."""
    content = {key: value for key, value in document.items() if key != "sha256"}
    canonical = json.dumps(content, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(canonical.encode("ascii")).hexdigest()


def encode(document: Mapping[str, Any]) -> str:
    """Return the text of the file: one refrigerant to a line, the hash filled in."""

    def lines() -> Iterator[str]:
        for key, value in document.items():
            if key not in ("sha256", "refrigerants"):
                yield f"{json.dumps(key)}: {json.dumps(value)},"
        yield f'"sha256": "{content_hash(document)}",'
        yield '"refrigerants": {'
        rows = [
            f"{json.dumps(name)}: {json.dumps(entry, separators=(',', ':'), allow_nan=False)}"
            for name, entry in document["refrigerants"].items()
        ]
        yield ",\n".join(rows)
        yield "}"

    return "{\n" + "\n".join(lines()) + "\n}\n"


def verified_document(
    text: str, *, file_name: str, form: str, version: int, remedy: str
) -> dict[str, Any]:
    """Return the JSON object of a shipped file, after checking its form and its hash.

    Parameters
    ----------
    text : str
    file_name : str
        Stands in errors.
    form, version : str, int
        Its ``format`` and ``format_version``.
    remedy : str
        What to do about a damaged file; ends every error.

    Raises
    ------
    RecordDamagedError
        The text is no such file, or its content contradicts its ``sha256``.
    """
    try:
        document = json.loads(text)
    except ValueError as exc:
        raise RecordDamagedError(
            f"{file_name}: expected JSON, came something else ({exc}); {remedy}"
        ) from exc
    if not isinstance(document, dict) or document.get("format") != form:
        raise RecordDamagedError(f"{file_name}: expected a {form!r}, came another file; {remedy}")
    if document.get("format_version") != version:
        raise RecordDamagedError(
            f"{file_name}: expected format version {version}, came "
            f"{document.get('format_version')!r}; {remedy}"
        )
    try:
        computed = content_hash(document)
    except ValueError as exc:
        raise RecordDamagedError(f"{file_name}: holds a NaN or an infinity; {remedy}") from exc
    if document.get("sha256") != computed:
        raise RecordDamagedError(
            f"{file_name}: expected content with SHA-256 {document.get('sha256')!r}, came content "
            f"with {computed!r}: a number in it was changed; {remedy}"
        )
    return document


def decode(text: str) -> SaturationTable:
    """Return the table that `text` holds, after checking its form and its hash.

    Raises
    ------
    RecordDamagedError
        The text is not a table of this format version, or its content contradicts its hash.
    """
    document = verified_document(
        text, file_name=FILE_NAME, form=FORMAT, version=FORMAT_VERSION, remedy=REMEDY
    )
    return SaturationTable(
        sha256=document["sha256"],
        coolprop_version=document["coolprop_version"],
        coolprop_revision=document["coolprop_revision"],
        entries={
            name: TableEntry(
                name=name,
                model=row["model"],
                composition=tuple((part, fraction) for part, fraction in row["composition"]),
                low_pa_abs=row["low_pa_abs"],
                high_pa_abs=row["high_pa_abs"],
                critical_pressure_pa_abs=row["critical_pressure_pa_abs"],
                critical_temp_k=row["critical_temp_k"],
                bubble_temp_k=tuple(row["bubble_temp_k"]),
                dew_temp_k=tuple(row["dew_temp_k"]),
                liquid_density_kg_per_m3=tuple(row["liquid_density_kg_per_m3"]),
            )
            for name, row in document["refrigerants"].items()
        },
    )


def shipped_text() -> str:
    """Return the text of the table file in this package."""
    return files("chargeassist.physics").joinpath(FILE_NAME).read_text(encoding="ascii")


@cache
def shipped_table() -> SaturationTable:
    """Return the verified table of this package; the file is read once, when first needed.

    Raises
    ------
    RecordDamagedError
        The file is missing, is no table, or contradicts its own hash.
    """
    try:
        text = shipped_text()
    except (OSError, UnicodeDecodeError) as exc:
        raise RecordDamagedError(f"{FILE_NAME} cannot be read ({exc}); {REMEDY}") from exc
    return decode(text)


def table_hash() -> str:
    """Return the SHA-256 of the shipped table, for the record of a session."""
    return shipped_table().sha256
