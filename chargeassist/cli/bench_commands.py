"""The parsers of what is looked up or checked before a job: probes, saturation, air, limits."""

from chargeassist.cli.arguments import (
    Commands,
    add_json,
    add_station,
    add_units,
    command,
    finite,
)


def add_commands(commands: Commands) -> None:
    """Add the parsers of these commands."""
    _add_probes(commands)
    _add_saturation(commands)
    _add_standing(commands)
    _add_airflow(commands)
    _add_profiles(commands)


def _add_probes(commands: Commands) -> None:
    parser = command(
        commands,
        "probes",
        handler="chargeassist.cli.probes:probes",
        help="list serial ports; show what a probe delivers",
        description="Without arguments: serial ports and adapters. With a job file: what each of "
        "its probes delivers, decoded. With an address: the same for one source. --json prints one "
        "JSON object a line, as things arrive. --guide leads on a screen from a port or broker to "
        "the section of the job file that reads it.",
        examples=(
            "probes",
            "probes --guide job.toml",
            "probes job.toml",
            'probes "serial:/dev/ttyUSB0?baud=9600" --unit psig',
            'probes "modbus:/dev/ttyUSB0?baud=9600&frame=8N1" --unit psig '
            "--select 1/input:0:int16 --scale 0.1",
            "probes mqtt://localhost --topic job/amps --format json --select a "
            "--role compressor_current",
        ),
        fails="a channel stayed silent",
    )
    parser.add_argument(
        "what",
        nargs="?",
        metavar="JOB.toml|URL",
        help="job file, or an address such as serial:/dev/ttyUSB0?baud=9600",
    )
    parser.add_argument(
        "--guide",
        action="store_true",
        help="a screen that shows what arrives, asks for role and unit, and writes the section",
    )
    parser.add_argument(
        "--format",
        default="number",
        help="how URL writes it: number (default), csv, keyvalue, json, senml",
    )
    parser.add_argument(
        "--role",
        default="",
        help="of the probe at URL, such as suction_pressure; else the first that --unit fits",
    )
    parser.add_argument(
        "--unit", default="", help="unit the probe at URL sends, such as psig or °F"
    )
    parser.add_argument(
        "--select",
        default="",
        help="column, key or path in the payload; of modbus: device/table:register:type, "
        "such as 2/input:3:int16",
    )
    parser.add_argument(
        "--scale", type=finite, default=1.0, help="what the number is multiplied by"
    )
    parser.add_argument("--offset", type=finite, default=0.0, help="what is added to it then")
    parser.add_argument("--topic", default="", help="MQTT topic")
    parser.add_argument(
        "--seconds", type=finite, default=10.0, help="how long to listen (default 10)"
    )
    add_units(parser)
    add_json(parser)


def _add_saturation(commands: Commands) -> None:
    parser = command(
        commands,
        "saturation",
        handler="chargeassist.cli.saturation:saturation",
        help="saturation temperature of a refrigerant at a pressure",
        examples=(
            "saturation list",
            "saturation R-32 248psig --altitude 210m",
            "saturation R-410A 248psig --line 79.4°F",
        ),
        fails="the pressure is outside the table",
    )
    parser.add_argument("refrigerant", help="for example R-410A; 'list' names them all")
    parser.add_argument("pressure", nargs="?", help='for example 248psig, "1.2 MPa(a)"')
    add_station(parser)
    parser.add_argument("--line", help="liquid line temperature: gives the subcooling too")
    add_json(parser)


def _add_standing(commands: Commands) -> None:
    parser = command(
        commands,
        "standing",
        handler="chargeassist.cli.standing:standing",
        help="check a pressure probe against a cylinder or an idle circuit at rest",
        examples=('standing R-32 200psig 68°F --rested "5 h"',),
        fails="the probe does not agree with saturation, or it cannot be told",
    )
    parser.add_argument("refrigerant", help="what is in it")
    parser.add_argument("pressure", help="as the probe reads: 200psig")
    parser.add_argument("temperature", help="of the cylinder wall at the liquid, insulated: 68°F")
    parser.add_argument("--rested", default="0 s", help='how long it has rested: "5 h"')
    parser.add_argument(
        "--needs", metavar="TIME", help="how long it has to; else that of program-default: 4 h"
    )
    parser.add_argument(
        "--limit", default="3 psi", help="what the probe may be off (its declared limit)"
    )
    parser.add_argument(
        "--uncertainty", default="0.5 K", help="of the temperature, k = 2, contact included"
    )
    parser.add_argument("--place", choices=("cylinder", "circuit"), default="cylinder")
    add_station(parser)
    add_json(parser)


def _add_airflow(commands: Commands) -> None:
    parser = command(
        commands,
        "airflow",
        handler="chargeassist.cli.airflow:airflow",
        help="indoor airflow by heat balance: what a known heat warms the air by",
        description="Run the electric heat or the furnace alone, measure its heat and the air "
        "before and after it out of sight of the heater, and type the flow that is printed. The "
        "air's own volume at its temperature, humidity and station pressure counts.",
        examples=(
            "airflow 10kW 70°F 101.6°F",
            'airflow "34000 Btu/h" 70°F 101°F --altitude 1450m --capacity 3ton',
        ),
        fails="the air hardly changes, or the figures are none air can have",
    )
    parser.add_argument("heat", help="volts times amps, or the output of the furnace: 10kW")
    parser.add_argument("before", help="dry bulb before it: 70°F")
    parser.add_argument("after", help="dry bulb after it: 101.6°F")
    parser.add_argument("--humidity", default="50%", help="relative, of the air before it")
    parser.add_argument("--heat-within", default="3%", help="uncertainty of the heat, k = 2")
    parser.add_argument("--uncertainty", default="0.5 K", help="of one temperature, k = 2")
    parser.add_argument("--capacity", help="nominal cooling of the unit: gives the flow per ton")
    add_station(parser)
    add_json(parser)


def _add_profiles(commands: Commands) -> None:
    parser = command(
        commands,
        "profiles",
        handler="chargeassist.cli.profiles:profiles",
        help="shipped limits, each with its source",
        description="Without a name: every profile a job file may name. With one: each of its "
        "limits with value, source, edition, rank, and whether it was written down from memory.",
        examples=("profiles", "profiles house-default", "profiles house.toml"),
    )
    parser.add_argument(
        "name",
        nargs="?",
        metavar="NAME|FILE.toml",
        help="for example house-default, or a file of your own",
    )
    add_json(parser)
