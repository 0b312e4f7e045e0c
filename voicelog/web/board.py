"""What the dictation page shows: its state in one word, the step's fields, what was said."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from voicelog.web import readback, sheet

if TYPE_CHECKING:
    from voicelog.web.desk import Visit
    from voicelog.web.dictation import Heard
    from voicelog.web.listener import Listener

SHOWN = 12
"""Utterances of the running text that stay on the page."""


def state(visit: Visit, listener: Listener) -> dict[str, Any]:
    """Everything that changes, ready to be put in place."""
    dictation = listener.dictation
    sections = sheet.lay_out(dictation.card, dictation.draft)
    here = next(s for s in sections if s.step.number == dictation.step)
    question = listener.question()
    return {
        "paused": dictation.paused_at is not None,
        **line(listener),
        "step": dictation.step,
        "ending": listener.ending,
        "trouble": listener.trouble or visit.desk.live.trouble,
        "question": question,
        "asking": _asking(listener) if question else "",
        "voice": readback.voice(visit.desk.site.read_back) is not None,
        "step_html": visit.html(
            "parts/step.html", section=here, sections=sections, asked=dictation.asked
        ),
        "heard_html": visit.html(
            "parts/heard.html", heard=[h for h in reversed(dictation.heard) if h.text][:SHOWN]
        ),
        "last_html": visit.html("parts/last.html", one=_last(dictation.heard)),
        "asked_html": visit.html("parts/asked.html", lines=asked_lines(listener)),
    }


def line(listener: Listener) -> dict[str, int]:
    """What is to be heard of this dictation, and what of others comes before it."""
    return {"waiting": listener.waiting, "before": listener.before}


def _last(heard: list[Heard]) -> Heard | None:
    """The last utterance with words in it, or that was not understood."""
    return next((h for h in reversed(heard) if h.text or h.fate == "unheard"), None)


def asked_lines(listener: Listener) -> tuple[sheet.Line, ...]:
    """The values of the read-back as lines of the card."""
    card = listener.dictation.card
    found = []
    for value in listener.dictation.asked:
        step = card.step(value.step)
        field = step.field(value.field) if step else None
        if step is not None and field is not None:
            found.append(sheet.Line(step, field, value.position, (value,)))
    return tuple(found)


def _asking(listener: Listener) -> str:
    """Stands for the question, so that the page says each one once."""
    from voicelog.web.dictation import mark

    return "".join(mark(value)[:8] for value in listener.dictation.asked)
