"""The quantity a charge is judged by: where it is measured, and what refrigerant does to it.

This is the one place that knows the difference. A metering valve keeps superheat, so the charge
shows in the subcooling; behind a fixed orifice it shows in the superheat, which falls as
refrigerant is added.
"""

from dataclasses import dataclass
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.limits import LimitKey, Method


@dataclass(frozen=True, slots=True)
class JudgedQuantity:
    """Subcooling or superheat, as the quantity a charge is judged by.

    Attributes
    ----------
    method : Method
    name : str
        As shown on screens.
    figure : str
        Its key among the figures of an advice.
    pressure, temperature : Role
        The probes it is computed from.
    line : str
        The line those probes are on.
    charge_sign : float
        1 if adding refrigerant raises it, -1 if adding lowers it.
    short_cause, excess_cause : str
        Keys of the wording table: too little refrigerant, too much.
    settling_cause, no_value_cause : str
        Keys of the wording table: still moving, cannot be computed.
    tolerance : LimitKey
        The limit that gives the tolerance if the job does not.
    """

    method: Method
    name: str
    figure: str
    pressure: Role
    temperature: Role
    line: str
    charge_sign: float
    short_cause: str
    excess_cause: str
    settling_cause: str
    no_value_cause: str
    tolerance: LimitKey


SUBCOOLING: Final = JudgedQuantity(
    method=Method.SUBCOOLING,
    name="subcooling",
    figure="subcooling_k",
    pressure=Role.LIQUID_PRESSURE,
    temperature=Role.LIQUID_TEMPERATURE,
    line="liquid line",
    charge_sign=1.0,
    short_cause="below_target",
    excess_cause="above_target",
    settling_cause="settling",
    no_value_cause="no_value",
    tolerance=LimitKey.SUBCOOLING_TOLERANCE,
)

SUPERHEAT: Final = JudgedQuantity(
    method=Method.SUPERHEAT,
    name="superheat",
    figure="superheat_k",
    pressure=Role.SUCTION_PRESSURE,
    temperature=Role.SUCTION_TEMPERATURE,
    line="suction line",
    charge_sign=-1.0,
    short_cause="superheat_over_target",
    excess_cause="superheat_under_target",
    settling_cause="superheat_settling",
    no_value_cause="no_superheat",
    tolerance=LimitKey.SUPERHEAT_TOLERANCE,
)

JUDGED: Final = {SUBCOOLING.method: SUBCOOLING, SUPERHEAT.method: SUPERHEAT}
"""By the method a job names; nothing is charged by weigh-in or approach here."""
