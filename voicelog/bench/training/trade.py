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
_NAMED = (*_SIDES, ("front", "rear"), ("red", "blue", "yellow"), ("top", "middle", "bottom"))
_OPTIONS = (
    ("new", "reused", "repaired"), ("light", "moderate", "heavy"),
    ("clean", "dirty", "contaminated"), ("full", "half", "empty"), ("open", "closed"),
    ("type one", "type two"), ("smooth", "rough"),
)  # fmt: skip
_KINDS: tuple[FieldType, ...] = (
    *("measurement",) * 10,
    *("check",) * 7,
    *("count",) * 2,
    *("ratio",) * 2,
    *("identifier",) * 4,
    *("date",) * 2,
    "choice",
)
_OF_KIND = ("serial number", "part number", "batch number", "tool number")
_MEASURES = (  # property, Pint unit, how the unit is said, range, decimals
    ("torque", "N*m", ("newton metres", "newton metres", "newtons metre"), 8, 320, 0),
    ("torque", "N*m", ("newton metres",), 300, 2900, 0),
    ("torque", "N*m", ("newton metres",), 2, 60, 1),
    ("torque", "ft*lbf", ("foot pounds", "foot pounds", "pounds foot"), 12, 480, 0),
    ("torque", "in*lbf", ("inch pounds",), 20, 900, 0),
    ("pressure", "psi", ("P S I", "P S I", "pounds"), 15, 3400, 0),
    ("pressure", "psi", ("P S I",), 10, 300, 0),
    ("pressure", "bar", ("bar",), 1, 240, 0),
    ("pressure", "bar", ("bar",), 1, 12, 1),
    ("pressure", "kPa", ("kilopascals",), 20, 900, 0),
    ("pressure", "inHg", ("inches of mercury",), 5, 31, 1),
    ("tension", "lbf", ("pounds", "pounds", "pounds force"), 15, 180, 0),
    ("friction", "lbf", ("pounds",), 1, 12, 1),
    ("load", "kN", ("kilonewtons",), 2, 90, 1),
    ("force", "N", ("newtons",), 20, 900, 0),
    ("clearance", "mm", ("millimetres", "millimetres", "mil"), 0, 9, 2),
    ("gap", "mm", ("millimetres",), 0, 3, 2),
    ("wear", "mm", ("millimetres",), 0, 25, 1),
    ("diameter", "mm", ("millimetres",), 10, 900, 1),
    ("thickness", "mm", ("millimetres", "mills"), 2, 60, 0),
    ("length", "cm", ("centimetres",), 3, 90, 0),
    ("end float", "thou", ("thou", "thousandths"), 1, 60, 0),
    ("run-out", "thou", ("thou",), 1, 40, 0),
    ("play", "thou", ("thou",), 1, 25, 0),
    ("gap", "inch", ("inches",), 0, 2, 3),
    ("roughness", "um", ("microns",), 1, 90, 0),
    ("temperature", "degC", ("degrees Celsius", "degrees", "degrees C"), 5, 180, 0),
    ("temperature", "degC", ("degrees Celsius", "degrees"), -25, 40, 0),
    ("exhaust temperature", "degC", ("degrees", "degrees Celsius"), 280, 820, 0),
    ("temperature", "degF", ("degrees Fahrenheit",), 40, 240, 0),
    ("angle", "degree", ("degrees",), 1, 60, 1),
    ("travel", "degree", ("degrees",), 3, 60, 0),
    ("voltage", "volt", ("volts",), 1, 32, 1),
    ("cell voltage", "volt", ("volts",), 1, 3, 2),
    ("voltage", "volt", ("volts",), 100, 690, 0),
    ("voltage drop", "mV", ("millivolts",), 2, 90, 0),
    ("current", "ampere", ("amps",), 1, 400, 0),
    ("leakage", "mA", ("milliamps",), 1, 30, 1),
    ("resistance", "milliohm", ("milliohms",), 1, 90, 1),
    ("resistance", "ohm", ("ohms",), 1, 200, 1),
    ("insulation", "Mohm", ("megohms",), 2, 900, 0),
    ("speed", "rpm", ("R P M", "R P M", "revs"), 300, 6400, 0),
    ("frequency", "Hz", ("hertz",), 48, 52, 1),
    ("flow", "L/min", ("litres per minute",), 1, 90, 1),
    ("leak rate", "1/min", ("drops per minute", "drops a minute"), 0, 30, 0),
    ("quantity", "L", ("litres",), 1, 40, 1),
    ("grease", "kg", ("kilograms", "kilos"), 1, 9, 1),
    ("grease", "g", ("grams",), 20, 900, 0),
    ("vibration", "mm/s", ("millimetres per second", "millimetres a second"), 0, 12, 1),
    ("time", "second", ("seconds",), 2, 90, 0),
    ("running time", "minute", ("minutes",), 2, 60, 0),
    ("hours", "hour", ("hours",), 20, 9000, 0),
    ("level", "percent", ("percent",), 3, 100, 0),
    ("core speed", "percent", ("percent",), 20, 104, 1),
    ("light", "lux", ("lux",), 100, 1200, 0),
)


def _places(kind: FieldType, rng: Random) -> tuple[tuple[str, ...], str | None]:
    """(positions, the word said before one)."""
    if kind == "ratio":
        return tuple("123456"), "cylinder"
    if kind not in ("measurement", "count") or rng.random() < 0.45:
        return (), None
    if rng.random() < 0.35:
        return rng.choice(_NAMED), None
    count = rng.choice((2, 4, 6, 8, 12, 16))
    return tuple(str(at + 1) for at in range(count)), rng.choice(_PLACES)


def _field(name: str, rng: Random) -> Field:
    label = rng.choice(_PARTS)
    kind = rng.choice(_KINDS)
    positions, word = _places(kind, rng)
    unit = "psi" if kind == "ratio" else None
    options: tuple[str, ...] = ()
    of_kind = None
    match kind:
        case "measurement":
            said, unit, *_ = rng.choice(_MEASURES)
            label = f"{label} {said}"
        case "identifier":
            of_kind = rng.choice(_OF_KIND)
            label = rng.choice(
                (f"{label} serial", f"new {label}", f"{label} off", f"{label} on", f"{label} batch",
                 "torque wrench", "test set", "gauge number", f"{label} part number")
            )  # fmt: skip
        case "count":
            label = rng.choice((f"broken {label}s", f"missing {label}s", f"{label}s replaced"))
        case "date":
            label = rng.choice(("calibration due", "cal due", "expires", f"{label} next due"))
        case "choice":
            label, options = f"{label} state", rng.choice(_OPTIONS)
    return Field(
        name,
        label,
        kind,
        unit,
        options=options,
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
