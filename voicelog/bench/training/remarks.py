"""Verdicts, conditions and talk of the trade, drawn from a seed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.bench.training.figures import below_100

if TYPE_CHECKING:
    from random import Random


def _listed(text: str) -> tuple[str, ...]:
    return tuple(text.split("|"))


_GOOD = _listed(
    "pass|pass|okay|serviceable|good|checked, pass|within limits|secure|secure, pass|satisfactory|"
    "looks fine|no defects|all good|checked and good|free of damage|not damaged|tight|locked|"
    "fitted|fitted and locked|connected|connected and tight|clean|clean and dry|free|moves freely|"
    "undamaged|nothing found|passed|closed and latched|wire locked|in order"
)
_BAD = _listed(
    "fail|fail|unserviceable|not okay|failed|not within limits|not good, fail|damaged, fail|"
    "outside limits|rejected|cracked, fail|not locked|not fitted, fail|loose, fail|not secure|"
    "worn, fail|no good|out of limits|does not move freely, fail|not serviceable|bent, fail"
)
_UNDONE = _listed("not done|not checked|not yet|couldn't get at it|skipped|later")
_FAULTS = _listed(
    "leaks|cracks|corrosion|play|damage|chafing|scoring|debris|wear|nicks|dents|pitting|rust|"
    "scratches|distortion|burrs|metal particles|water|fretting|overheating|slack|binding"
)
_NONE = _listed("no|nil|no|no visible|no sign of|free of|couldn't find any")
_SIZES = _listed("a small|a light|slight|heavy|a bit of|some|a hairline|a fresh|an old|minor|bad")
_CONDITIONS = _listed(
    "leak|crack|corrosion|play|nick|dent|score|wear|weep|seep|chafing|pitting|scratch|burr|rust|"
    "staining|fraying|grinding|squeak|rubbing mark"
)
_PLACES = _listed(
    "left|right|upper|lower|forward|aft|inboard|outboard|inner|outer|front|rear|middle|bottom|top"
)
_NEAR = _listed(
    "bracket|flange|union|seal|weld|edge|face|clamp|hinge|rib|fitting|housing|sleeve|guard|hose|"
    "bushing|nut|cover|corner|cable|rivet line|bolt hole|end cap|lug"
)
_DONE = _listed(
    "cleaned and greased|replaced with a new one|blended out|wire locked|renewed|retightened|"
    "treated and painted|left as is|reported to the lead|swapped over|bled twice|refitted|"
    "ordered a new one|tagged and removed|deferred to the next shift|wiped clean and checked again"
)
_IDLE = _listed(
    "Mind your head there|Give me the other spanner|Where did that rag go?|Right, moving on|"
    "Just a second, wiping this off|Can you shine a light in here?|Okay, next one|"
    "It is noisy in here today|Wait, let me read the gauge again|The ladder is in the way|"
    "Somebody is calling me|Let me get closer|Hold this for a moment|Is that the right socket?|"
    "Careful, that's hot|Turn it a bit more|That's it, stop|I can't see from here|"
    "Hand me the mirror|Did you sign for the tools?|Where was I|Let me start again|"
    "Give me a minute|Who took the lamp?|"
    "Put that down over there|I think so, yes|No idea|What did the book say?|Same as yesterday|"
    "Good morning, starting now|That should do it|Lunch in ten minutes|Move the trolley, please|"
    "Are you ready?|Not yet, wait|The pump is running|Switch it off, please|Thanks|"
    "Let's have a look at it|This one is tight|My gloves are soaked|Say that again, please"
)
_PROCEDURE = _listed(
    "disregard|disregard that|I say again|say again|read back|affirm|negative|stand by|resume|"
    "next step|previous step|correction|that is all|end of note|over|out|roger|step complete|"
    "go ahead|stop|wait"
)


def capital(text: str) -> str:
    """`text` with its first letter in upper case."""
    return text[:1].upper() + text[1:]


def draw_check(cue: str, rng: Random) -> tuple[str, str | None]:
    """(what is said of the part `cue`, the verdict; None where it gives none)."""
    way, good = rng.random(), rng.random() < 0.6
    fault = rng.choice(_FAULTS)
    if way < 0.05:
        return f"{cue} {rng.choice(_UNDONE)}", None
    if way < 0.3 and good:
        none = rng.choice(
            ("no", "nil", "no", "no visible", "no sign of", "free of", "couldn't find any")
        )
        return f"{cue}, {none} {fault}{rng.choice(('', ', pass', ', okay'))}", "pass"
    if way < 0.3:
        found = rng.choice((f"{fault} found", f"{rng.choice(_SIZES)} {rng.choice(_CONDITIONS)}"))
        where = f" at the {rng.choice(_PLACES)} {rng.choice(_NEAR)}" if rng.random() < 0.5 else ""
        return f"{cue}, {found}{where}, fail", "fail"
    link = rng.choice((", ", " ", " ", " is ", ", "))
    if way < 0.4:
        verdict = rng.choice(("pass", "fail"))
        return f"{cue}{link}{verdict}", verdict
    return f"{cue}{link}{rng.choice(_GOOD if good else _BAD)}", None


def draw_remark(rng: Random) -> str:
    """A condition with its place, and what was done about it."""
    what = f"{rng.choice(_SIZES)} {rng.choice(_CONDITIONS)}"
    where = f"{rng.choice(_PLACES)} {rng.choice(_NEAR)}"
    head = rng.choice(("remarks, ", "remark, ", "note, ", "", "", "found "))
    size = f", about {below_100(rng.randint(2, 40))} millimetres long" if rng.random() < 0.2 else ""
    tail = f", {rng.choice(_DONE)}" if rng.random() < 0.6 else ""
    order = rng.choice((f"{what} on the {where}", f"{what} at the {where}", f"{where}, {what}",
                        f"{where} has {what}", f"{what} near the {where}"))  # fmt: skip
    return f"{head}{order}{size}{tail}"


def draw_idle(rng: Random) -> str:
    """Talk to a colleague or to oneself."""
    return rng.choice(_IDLE)


def draw_procedure(rng: Random) -> str:
    """A procedure word alone; ICAO Doc 9432 and common practice."""
    return rng.choice(_PROCEDURE)
