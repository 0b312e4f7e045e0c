"""How often values are right, and how often silently wrong: recordings and notes as text.

    samples -> (noise) -> listener -> draft -> score -> Result -> rows

A result is one sample under one condition by one system; rows sum them up by condition or
voice, with 95 % confidence intervals. Everything is plain data that goes into JSON.
"""

from __future__ import annotations

import time
from collections import defaultdict
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from voicelog.bench import noise
from voicelog.bench.samples import Sample, card_of
from voicelog.bench.score import Entry, Outcome, Tally, calibration_error, score, wilson
from voicelog.bench.wer import error_rate
from voicelog.errors import NoSpeech
from voicelog.wire import plain_value

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from voicelog.bench.noise import Condition
    from voicelog.bench.systems import Listener
    from voicelog.objects import Card, Draft

By = Literal["condition", "voice", "card", "name"]


@dataclass(frozen=True, slots=True)
class Result:
    """One sample under one condition by one system."""

    sample: Sample
    card: Card
    condition: str
    system: str
    written: str
    outcomes: tuple[Outcome, ...]
    audio_s: float = 0.0
    took_s: float = 0.0

    @property
    def failures(self) -> tuple[Outcome, ...]:
        """What is not as it should be, flagged or not."""
        return tuple(
            outcome
            for outcome in self.outcomes
            if outcome.silent or outcome.verdict in ("wrong", "missed", "unexpected")
        )

    def plain_failures(self) -> list[dict[str, Any]]:
        """`failures` as JSON, each with what was said and written."""
        return [
            {
                "name": self.sample.name,
                "condition": self.condition,
                "system": self.system,
                "step": outcome.key[0],
                "field": outcome.key[1],
                "position": outcome.key[2],
                "verdict": outcome.verdict,
                "silent": outcome.silent,
                "expected": _plain_entry(outcome.expected),
                "proposed": _plain_entry(outcome.proposed),
                "said": self.sample.text,
                "written": self.written,
            }
            for outcome in self.failures
        ]


def _plain_entry(entry: Entry | None) -> dict[str, Any] | None:
    if entry is None:
        return None
    return {
        "value": plain_value(entry.value),
        "unit": entry.unit,
        "flagged": entry.flagged,
        "confidence": entry.confidence,
        "reasons": list(entry.why),
    }


def outcomes_of(sample: Sample, card: Card, draft: Draft | None) -> tuple[Outcome, ...]:
    """The outcomes of a draft; of None (nobody spoke) everything is missed."""
    proposed = tuple(Entry.of_value(value) for value in draft.values) if draft else ()
    return score(card, sample.expect, proposed, sample.ask)


def written_in(draft: Draft | None) -> str:
    """All that the recogniser wrote."""
    return " ".join(take.transcript.text for take in draft.takes) if draft else ""


def listen(
    samples: Sequence[Sample],
    cards: dict[str, Card],
    systems: Mapping[str, Listener],
    conditions: Sequence[Condition] = (),
    tick: Callable[[], object] = lambda: None,
) -> tuple[Result, ...]:
    """Every sample by every system: as it is, or, with `conditions`, the clean ones under each.

    Noise is added from a seed, the sample's name, so every run hears the same. `tick` is
    called after each result. Raises AudioError, CardError, ConfigError.
    """
    from voicelog.speech import audio as sound

    results = []
    for sample, condition in planned(samples, conditions):
        card = card_of(sample, cards)
        if sample.path is None:
            continue
        heard = sound.load(sample.path)
        if condition is not None and condition != noise.CLEAN:
            heard = sound.of_samples(noise.apply(heard.samples, condition, sample.name))
        for system, listener in systems.items():
            begin = time.perf_counter()
            try:
                draft = listener(heard, card, sample.step)
            except NoSpeech:
                draft = None
            took_s = time.perf_counter() - begin
            results.append(
                Result(
                    sample,
                    card,
                    condition.name if condition is not None else sample.noise,
                    system,
                    written_in(draft),
                    outcomes_of(sample, card, draft),
                    heard.duration_s,
                    took_s,
                )
            )
            tick()
    return tuple(results)


def planned(
    samples: Sequence[Sample], conditions: Sequence[Condition]
) -> tuple[tuple[Sample, Condition | None], ...]:
    """What `listen` hears, in order: a ladder is made from the clean recordings only."""
    if not conditions:
        return tuple((sample, None) for sample in samples)
    clean = [sample for sample in samples if sample.noise == noise.CLEAN.name]
    return tuple((sample, condition) for condition in conditions for sample in clean)


def read(
    samples: Sequence[Sample],
    cards: dict[str, Card],
    tick: Callable[[], object] = lambda: None,
) -> tuple[Result, ...]:
    """Every note as text through the reading alone; the text is what was said or recognised."""
    from voicelog.pipeline import Chain

    chain, results = Chain(), []
    for sample in samples:
        card = card_of(sample, cards)
        begin = time.perf_counter()
        draft = chain.read(sample.text, card, sample.step)
        took_s = time.perf_counter() - begin
        outcomes = outcomes_of(sample, card, draft)
        results.append(
            Result(sample, card, sample.noise, "voicelog", sample.text, outcomes, took_s=took_s)
        )
        tick()
    return tuple(results)


# --- rows -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Row:
    """Counts of one system over one group of results."""

    system: str
    group: str
    """The condition, voice or card; "all" for the sum."""
    notes: int
    tally: Tally
    word_error_rate: float | None
    calibration_error: float
    audio_s: float = 0.0
    took_s: float = 0.0

    def plain(self) -> dict[str, Any]:
        """As JSON: counts, shares of what was expected, their 95 % intervals."""
        t = self.tally
        row: dict[str, Any] = {
            "system": self.system,
            "group": self.group,
            "notes": self.notes,
            "word_error_rate": self.word_error_rate,
            "expected": t.expected,
        }
        for name in ("right", "right_unflagged", "silent", "missed", "right_flagged", "caught"):
            row[name] = getattr(t, name)
        for name, hits, of in (
            ("right", t.right, t.expected),
            ("right_unflagged", t.right_unflagged, t.expected),
            ("silent", t.silent, t.expected + t.asked),
            ("right_flagged", t.right_flagged, t.right),
        ):
            row[f"{name}_share"] = hits / of if of else None
            row[f"{name}_interval"] = list(wilson(min(hits, of), of))
        return row | {
            "asked": t.asked,
            "calibration_error": self.calibration_error,
            "audio_s": self.audio_s,
            "took_s": self.took_s,
        }


def _row(system: str, group: str, results: Sequence[Result]) -> Row:
    outcomes = [outcome for result in results for outcome in result.outcomes]
    heard = [(result.sample.text, result.written) for result in results if result.audio_s]
    return Row(
        system,
        group,
        len(results),
        Tally.of(outcomes),
        error_rate(heard) if heard else None,
        calibration_error(outcomes),
        sum(result.audio_s for result in results),
        sum(result.took_s for result in results),
    )


def rows(results: Iterable[Result], by: By = "condition") -> tuple[Row, ...]:
    """A row for each system and group in the order they came, then one for all of a system."""
    groups: dict[tuple[str, str], list[Result]] = defaultdict(list)
    for result in results:
        group = result.condition if by == "condition" else getattr(result.sample, by)
        groups[result.system, group].append(result)
    out = []
    for system in dict.fromkeys(system for system, _ in groups):
        own = {group: many for (whose, group), many in groups.items() if whose == system}
        out += [_row(system, group, many) for group, many in own.items()]
        if len(own) > 1:
            out.append(_row(system, "all", [result for many in own.values() for result in many]))
    return tuple(out)


# --- risk against flag rate -------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RiskPoint:
    """What would become of the values if everything below `threshold` were flagged as well."""

    threshold: float
    right_flagged: float
    """Share of the right values that would be flagged."""
    silent: int
    silent_share: float
    """Silent errors among all values proposed."""

    def plain(self) -> dict[str, Any]:
        """As JSON."""
        return asdict(self)


def risk_curve(results: Iterable[Result]) -> tuple[RiskPoint, ...]:
    """Silent errors against flagged right values, from flags as they are to all flagged."""
    proposals = [
        outcome for result in results for outcome in result.outcomes if outcome.proposed is not None
    ]
    levels = {o.proposed.confidence for o in proposals if o.proposed is not None}
    points: list[RiskPoint] = []
    for threshold in (0.0, *sorted(levels), 1.0 + 1e-9):
        flagged = [
            replace(o, proposed=replace(o.proposed, flagged=True))
            if o.proposed is not None and o.proposed.confidence < threshold
            else o
            for o in proposals
        ]
        tally = Tally.of(flagged)
        point = RiskPoint(
            min(threshold, 1.0),
            tally.right_flagged / tally.right if tally.right else 0.0,
            tally.silent,
            tally.silent / len(proposals) if proposals else 0.0,
        )
        if not points or (point.right_flagged, point.silent) != (
            points[-1].right_flagged,
            points[-1].silent,
        ):
            points.append(point)
    return tuple(points)
