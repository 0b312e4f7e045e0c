"""Templates, and how values, limits and times are written on a page."""

from __future__ import annotations

import hashlib
from datetime import date, datetime
from decimal import Decimal
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import jinja2
from markupsafe import Markup

from voicelog.objects import Field, Interval, Ratio, Value

if TYPE_CHECKING:
    from voicelog.web.site import Site, Texts

_HERE = Path(__file__).resolve().parent
STATIC = _HERE / "static"


@lru_cache(maxsize=8)
def environment(site: Site, texts: Texts) -> jinja2.Environment:
    """The templates with their filters. A name that is missing is an error.

    All are compiled here: whoever opens a page first after a start must not wait for it.
    """
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_HERE / "templates"),
        auto_reload=False,
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {
        "unit": lambda unit: unit_sign(unit, texts),
        "value": lambda value: value_text(value, texts),
        "limits": lambda field: limits_text(field, texts),
        "when": lambda at: when(at, site),
        "day": lambda at: at.astimezone(site.zone).date().isoformat(),
        "clock": clock,
    }
    made.globals |= {"asset": asset, "icon": icon}
    for name in made.list_templates():
        made.get_template(name)
    return made


@cache
def asset(name: str) -> str:
    """Address of a file of static/, which changes when the file does."""
    digest = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:10]
    return f"/static/{name}?{digest}"


@cache
def icon(name: str) -> Markup:
    """A sign of the sprite, hidden from readers of the page: a word always stands beside it."""
    return Markup(
        '<svg class="icon" aria-hidden="true" width="24" height="24"><use href="{}#{}"/></svg>'
    ).format(asset("icons.svg"), name)


def unit_sign(unit: str | None, texts: Texts) -> str:
    """A unit as it is written: "N*m" -> "N·m"."""
    if not unit:
        return ""
    plain = unit.replace("**2", "²").replace("**3", "³").replace("*", "·")
    return str(texts.units.plain().get(unit, plain))


def value_text(value: Value | None, texts: Texts) -> str:
    """A value with the digits that were spoken; "pass" and "fail" in the site's language."""
    match value:
        case None:
            return "–"
        case Decimal():
            return format(value, "f").replace("-", "−")
        case Ratio(reading, reference):
            return f"{reading:f} / {reference:f}"
        case Interval(low, high):
            ends = ["…" if end is None else format(end, "f") for end in (low, high)]
            return " – ".join(ends)
        case date():
            return value.isoformat()
    return str(texts.verdict[value]) if value in ("pass", "fail", "not done") else value


def limits_text(field: Field, texts: Texts) -> str:
    """ "95 – 105 N·m", "at least 4 mm", "at most 5", or nothing."""
    low, high = field.min, field.max
    if low is not None and high is not None:
        bounds = f"{low:f} – {high:f}" if low != high else f"{low:f}"
    elif low is not None:
        bounds = f"≥ {low:f}"
    elif high is not None:
        bounds = f"≤ {high:f}"
    else:
        return ""
    return f"{bounds.replace('-', '−')} {unit_sign(field.unit, texts)}".strip()


def when(at: datetime | str, site: Site) -> str:
    """A moment by the site's clock, to the minute."""
    moment = datetime.fromisoformat(at) if isinstance(at, str) else at
    return moment.astimezone(site.zone).strftime("%Y-%m-%d %H:%M")


def clock(seconds: float | None) -> str:
    """Seconds of a recording as "1:04.2"."""
    if seconds is None:
        return ""
    return f"{int(seconds // 60)}:{seconds % 60:04.1f}"
