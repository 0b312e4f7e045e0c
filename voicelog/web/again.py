"""A value said again in the review: heard, read for the line in hand, shown as a correction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import anyio.to_thread

from voicelog.errors import AudioError, VoicelogError
from voicelog.heard import Transcript
from voicelog.objects import Take
from voicelog.web import review
from voicelog.work import intake

if TYPE_CHECKING:
    from starlette.responses import Response

    from voicelog.objects import Card, Draft, FieldValue
    from voicelog.web.desk import Visit
    from voicelog.web.sheet import Line

LONGEST_S = 45.0
"""A value that is said again takes no longer."""


async def take(visit: Visit) -> Response:
    """The reviewer speaks the value once more; it comes back as a correction to look at."""
    note, card = await anyio.to_thread.run_sync(review.note_and_card, visit)
    line = await anyio.to_thread.run_sync(review.find_line, visit, card, note, visit.said("line"))
    file = visit.files.get("recording")
    try:
        if file is None or not file.data:
            raise AudioError(visit.desk.texts.dictate.no_file)
        data, name = file.data, file.name
        await anyio.to_thread.run_sync(lambda: intake.check(data, name, LONGEST_S))
        draft = await visit.desk.live.recognition.note(data, name, card, line.step.number)
        found = await _spoken_for(visit, draft, line, card)
    except VoicelogError as error:
        message = str(error)
        return await anyio.to_thread.run_sync(lambda: review.show(visit, note, card, message, 422))
    await anyio.to_thread.run_sync(lambda: visit.store.audio.keep(data))
    return visit.go(
        "review",
        note.id,
        line=line.id,
        value=review.typed(found.value) if found else "",
        unit=(found.unit or "") if found else "",
        heard=" ".join(take.transcript.text for take in draft.takes)[:400],
        doubt=" · ".join(reason.sentence for reason in found.reasons)[:400] if found else "",
    )


async def _spoken_for(visit: Visit, draft: Draft, line: Line, card: Card) -> FieldValue | None:
    """The value of `line` in what was said: with its field's name, or as the value alone.

    The line was chosen by hand, so its name may be put before a value that has none; what was
    said of another field is no value of this one.
    """

    def of_line(read: Draft) -> FieldValue | None:
        return next((value for value in reversed(read.values) if value.key == line.key), None)

    texts = {(s.number, f.name) for s in card.steps for f in s.fields if f.type == "text"}
    if (found := of_line(draft)) is not None:
        return found
    if any((value.step, value.field) not in texts for value in draft.values):
        return None
    takes = (_named(line), *draft.takes)
    propose = visit.desk.live.recognition.propose
    return of_line(await propose(takes, card, line.step.number))


def _named(line: Line) -> Take:
    """The name of the line's field and place, as somebody would say it first."""
    name, word = (line.field.say or (line.field.label,))[0], line.field.position_word or ""
    place = (word, line.position) if line.position else ()
    said = place if name == word else (name, *place)
    return Take(Transcript.of_text(f"{' '.join(filter(None, said))},"))
