"""One dictation as it stands: what was said so far, where it is, what to ask.

Events change it and nothing else does, so a journal read again gives the same dictation.
`listener` makes the events out of sound; `folder` holds both between restarts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from voicelog import wire
from voicelog.heard import RATE_HZ
from voicelog.objects import Draft, FieldValue, Reason, Take

if TYPE_CHECKING:
    from voicelog.objects import Card
    from voicelog.web.site import Texts

Fate = Literal["kept", "control", "disregarded", "silent", "unheard"]
"""What became of an utterance: read into the draft; a command to the page; dropped by the
speaker; no words in it; not understood by the recogniser, kept for the reviewer to hear."""

_TOLD_LATE = 2 * RATE_HZ
"""The page can say up to so many samples later only that the device had lost some."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One utterance, in samples of the dictation's sound."""

    number: int
    start: int
    end: int
    fate: Fate
    take: Take | None = None

    @property
    def text(self) -> str:
        return self.take.transcript.text if self.take else ""


@dataclass(frozen=True, slots=True)
class Opening:
    """How a dictation began; never changes."""

    id: str
    by: str
    work_order: str
    card: str
    revision: str
    step: str | None
    began_at: str
    """ISO 8601 with offset."""


class Dictation:
    """The state that the events of one journal lead to."""

    def __init__(self, opening: Opening, card: Card) -> None:
        self.opening, self.card = opening, card
        self.step = opening.step or card.steps[0].number
        self.heard: list[Heard] = []
        self.paused_at: int | None = None
        """Sample from which on nothing is kept; None while listening."""
        self.heard_until = 0
        """Sample up to which the sound has been worked on."""
        self.asked: tuple[FieldValue, ...] = ()
        """Values of the read-back that waits for "affirm" or "negative"."""
        self.answers: dict[str, str] = {}
        """Digest of a value as it was read back -> "affirm" or "negative"."""
        self.read: set[str] = set()
        """Digests of all values that were read back."""
        self.lost: list[tuple[int, int]] = []
        """(sample, ms): where the device lost so much sound."""
        self.note: str | None = None
        self.draft = Draft(card.number, card.revision, self.step, (), ())

    @property
    def _kept(self) -> list[Heard]:
        return [h for h in self.heard if h.take is not None and h.fate == "kept"]

    @property
    def takes(self) -> tuple[Take, ...]:
        """What goes into the draft."""
        return tuple(h.take for h in self._kept if h.take is not None)

    @property
    def silent(self) -> bool:
        """Nothing was said that a person could want to hear again."""
        return not any(h.fate in ("kept", "disregarded", "unheard") for h in self.heard)

    def apply(self, event: dict[str, Any]) -> None:
        """Take one event over. The keys of an event are independent of one another."""
        if "heard" in event:
            self._utterance(event["heard"])
        if "until" in event:
            self.heard_until = max(self.heard_until, event["until"])
        if "step" in event:
            self.step = event["step"]
        if "paused_at" in event:
            self.paused_at = event["paused_at"]
        if "drop" in event:
            self.heard = [
                replace(h, fate="disregarded") if h.number == event["drop"] else h
                for h in self.heard
            ]
        if "asked" in event:
            self.asked = tuple(wire.from_plain(FieldValue, value) for value in event["asked"])
            self.read |= {mark(value) for value in self.asked}
        if "answer" in event:
            self.answers |= dict.fromkeys(map(mark, self.asked), event["answer"])
            self.asked = ()
        if "lost" in event:
            self.lost.append(tuple(event["lost"]))
        if "note" in event:
            self.note = event["note"]

    def _utterance(self, plain: dict[str, Any]) -> None:
        take = wire.from_plain(Take, plain["take"]) if plain.get("take") else None
        self.heard.append(
            Heard(
                len(self.heard),
                plain["start"],
                plain["end"],
                plain["fate"],
                take,
            )
        )

    def proposed(self, draft: Draft, words: Texts) -> None:
        """Take over the draft that was read out of `takes`.

        With the answers to read-backs, and with doubt where the device lost sound. `words` are
        the sentences of doubt.
        """
        lost = self._lost_in_takes(words.sound_lost)
        warnings = tuple(Reason("sound_lost", sentence) for sentence in lost.values())
        self.draft = replace(
            draft,
            values=tuple(
                self._answered(value, words.denied_by_voice, lost.get(value.take))
                for value in draft.values
            ),
            warnings=(*draft.warnings, *dict.fromkeys(warnings)),
        )

    def _lost_in_takes(self, sentence: str) -> dict[int, str]:
        """For each take in which the device lost sound, a sentence that says so."""
        found = {}
        for number, heard in enumerate(self._kept):
            lost_ms = sum(ms for at, ms in self.lost if heard.start <= at <= heard.end + _TOLD_LATE)
            if lost_ms:
                found[number] = sentence.format(seconds=f"{lost_ms / 1000:.2f}", text=heard.text)
        return found

    def _answered(self, value: FieldValue, denied: str, lost: str | None) -> FieldValue:
        if lost is not None:
            value = replace(value, reasons=(*value.reasons, Reason("sound_lost", lost)))
        answer = self.answers.get(mark(value))
        if answer == "affirm":
            return replace(value, affirmed=True)
        if answer == "negative":
            return replace(value, reasons=(*value.reasons, Reason("denied_by_voice", denied)))
        return value

    def to_ask(self, *, everything: bool) -> tuple[FieldValue, ...]:
        """Values to read back: all of the step when asked for, else what nobody may overlook."""
        if everything:
            here = tuple(value for value in self.draft.values if value.step == self.step)
            return here or self.draft.values[-1:]
        return tuple(
            value
            for value in self.draft.values
            if (value.needs_check or value.limit in ("below", "above") or value.value == "fail")
            and not value.affirmed
            and mark(value) not in self.read
        )


def mark(value: FieldValue) -> str:
    """Stands for a value at its place; another value there, or another place, has another."""
    return wire.digest(FieldValue(*value.key, value.value, value.unit))
