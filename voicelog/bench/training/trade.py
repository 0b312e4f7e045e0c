"""An invented trade: parts, places, measures, and cards drawn from them."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from voicelog.objects import Card, Field, FieldType, Step

if TYPE_CHECKING:
    from random import Random


def _listed(text: str) -> list[str]:
    return text.split("|")


# Invented for training; none of the demo's or the golden set's cards speak of these.
_PARTS = _listed(
    "rudder pedal|tailwheel|drag brace|uplock|cargo net|seat rail|drain mast|ram air duct|"
    "trim jack|gust lock|aileron hinge|canopy rail|fuel cell|boost pump|oil cooler|"
    "heat exchanger|bleed duct|starter|alternator|magneto|spark plug|rocker cover|intake pipe|"
    "exhaust clamp|governor|spinner|hub|blade root|feather stop|swashplate|pitch link|"
    "drag damper|tail rotor|gearbox mount|transmission deck|hoist hook|winch drum|jib pin|"
    "outrigger|boom foot|sheave|trolley wheel|buffer|rail clamp|coupling|pinion|ring gear|"
    "bearing cap|thrust washer|guide shoe|buffer spring|door operator|pantograph|axle box|"
    "brake caliper|brake disc|torque link|shimmy damper|master cylinder|accumulator|"
    "filter bowl|relief valve|check valve|shuttle valve|hose end|union|manifold|actuator|"
    "linkage|bellcrank|turnbuckle|push rod|fairlead|quadrant|terminal block|bus bar|"
    "earth strap|contactor|relay|battery lead|inverter|connector|sensor|probe|switch|strobe|"
    "landing light|wing bolt|mount bolt|flange nut|castle nut|pivot pin|clevis|shear pin|"
    "lock plate|stud|gland nut|packing|seal|gasket|panel"
)
_PLACES = _listed("bolt|nut|stud|screw|cell|cylinder|position|blade|wheel|pad|hose|link|station")
_SIDES = (("left", "right"), ("inboard", "outboard"), ("forward", "aft"), ("upper", "lower"))
_KINDS: tuple[FieldType, ...] = (
    *("measurement",) * 5,
    *("check",) * 3,
    "count",
    "ratio",
    "identifier",
)
_MEASURES = (  # property, Pint unit, how the unit is said, range, decimals
    ("torque", "N*m", ("newton metres",), 8, 320, 0),
    ("torque", "N*m", ("newton metres",), 2, 60, 1),
    ("torque", "ft*lbf", ("foot pounds",), 12, 480, 0),
    ("torque", "in*lbf", ("inch pounds",), 20, 900, 0),
    ("pressure", "psi", ("psi",), 15, 3400, 0),
    ("pressure", "bar", ("bar",), 1, 240, 0),
    ("pressure", "bar", ("bar",), 1, 12, 1),
    ("tension", "lbf", ("pounds",), 15, 180, 0),
    ("load", "kN", ("kilonewtons",), 2, 90, 1),
    ("clearance", "mm", ("millimetres",), 0, 9, 2),
    ("wear", "mm", ("millimetres",), 0, 25, 1),
    ("end float", "thou", ("thou",), 1, 60, 0),
    ("run-out", "thou", ("thou",), 1, 40, 0),
    ("gap", "inch", ("inches",), 0, 2, 3),
    ("temperature", "degC", ("degrees Celsius", "degrees"), 5, 180, 0),
    ("angle", "degree", ("degrees",), 1, 60, 1),
    ("voltage", "volt", ("volts",), 1, 32, 1),
    ("current", "ampere", ("amps",), 1, 400, 0),
    ("resistance", "milliohm", ("milliohms",), 1, 90, 1),
    ("insulation", "Mohm", ("megohms",), 2, 900, 0),
    ("speed", "rpm", ("rpm",), 300, 6400, 0),
    ("flow", "L/min", ("litres per minute",), 1, 90, 1),
    ("quantity", "L", ("litres",), 1, 40, 1),
    ("vibration", "mm/s", ("millimetres per second",), 0, 12, 1),
    ("time", "second", ("seconds",), 2, 90, 0),
    ("level", "percent", ("percent",), 3, 100, 0),
)


def _places(kind: FieldType, rng: Random) -> tuple[tuple[str, ...], str | None]:
    """(positions, the word said before one)."""
    if kind == "ratio":
        return tuple("123456"), "cylinder"
    if kind != "measurement" or rng.random() < 0.5:
        return (), None
    if rng.random() < 0.35:
        return rng.choice(_SIDES), None
    count = rng.choice((2, 4, 6, 8, 12))
    return tuple(str(at + 1) for at in range(count)), rng.choice(_PLACES)


def _field(name: str, rng: Random) -> Field:
    label = rng.choice(_PARTS)
    kind = rng.choice(_KINDS)
    positions, word = _places(kind, rng)
    unit = "psi" if kind == "ratio" else None
    match kind:
        case "measurement":
            said, unit, *_ = rng.choice(_MEASURES)
            label = f"{label} {said}"
        case "identifier":
            label = rng.choice((f"{label} serial", f"new {label}", f"{label} off", f"{label} on"))
        case "count":
            label = rng.choice((f"broken {label}s", f"missing {label}s"))
    of_kind = "serial number" if kind == "identifier" else None
    return Field(
        name,
        label,
        kind,
        unit,
        positions=positions,
        position_word=word,
        say=(label,),
        kind=of_kind,  # type: ignore[arg-type]
    )


def draw_card(rng: Random, number: int) -> Card:
    """A card of one step with up to six fields; no label and no word for places comes twice."""
    fields: dict[str, Field] = {}
    for at in range(rng.randint(2, 6)):
        field = _field(f"field_{at}", rng)
        fields.setdefault(field.position_word or field.label, field)
    step = Step("1", "Drawn for training", tuple(fields.values()))
    return Card(f"TRAIN-{number}", "Training", "1", date(2026, 1, 1), "invented", (step,))


def draw_value(field: Field, rng: Random) -> tuple[str, str]:
    """(decimal, the unit as said) in the range of the field's measure."""
    fits = [m for m in _MEASURES if m[1] == field.unit and field.label.endswith(m[0])]
    _, _, said, low, high, places = rng.choice(fits)
    value = rng.uniform(low, high)
    if places == 0 and rng.random() < 0.25:  # teens and tens are the ones mistaken
        value = rng.choice((13, 14, 15, 16, 17, 18, 19, 30, 40, 50, 60, 70, 80, 90))
    return f"{value:.{places}f}", rng.choice(said)


def draw_unit(rng: Random) -> str:
    """A unit as it is said."""
    return rng.choice(rng.choice(_MEASURES)[2])
