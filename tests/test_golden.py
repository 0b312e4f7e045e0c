"""The golden set: dictated notes read and mapped, scored against what was written down beforehand.

The project's aims: of the values to be read 98 % right, 90 % right without a flag, no silent
error; on the notes set aside the shares may be two points lower. The dev notes as people write
speech down are there, and so are the shares of those set aside. What a recogniser really wrote is
not yet: `REACHED` holds what they have reached, by form, so that it only gets better.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import pytest

from tests.cases import GOLDEN, lines
from voicelog import cards, units
from voicelog.bench.score import Entry, Outcome, Tally, score
from voicelog.objects import Card, Draft
from voicelog.pipeline import Chain

FILES = ("dev", "heldout")
FORMS = ("clean", "recognised")


@dataclass(frozen=True)
class Reached:
    """At least these shares (per cent), at most these counts."""

    right: float
    unflagged: float
    silent: int
    as_found_unseen: int
    words_unseen: int


REACHED = {
    ("dev", "clean"): Reached(98.5, 93.3, 0, 39, 17),
    ("dev", "recognised"): Reached(95.7, 83.6, 24, 32, 8),
    ("heldout", "clean"): Reached(97.1, 91.0, 12, 8, 2),
    ("heldout", "recognised"): Reached(94.6, 84.0, 7, 5, 0),
}
SETS = tuple(REACHED)


@cache
def shop() -> dict[str, Card]:
    own = {card.number: card for card in map(cards.load, sorted(GOLDEN.glob("cards/*.yaml")))}
    return cards.shipped() | own


@cache
def notes(name: str) -> tuple[dict[str, Any], ...]:
    return tuple(lines(f"notes_{name}.jsonl"))


@cache
def drafts(name: str) -> tuple[Draft, ...]:
    chain = Chain()
    return tuple(
        chain.read(note["text"], shop()[note["card"]], note["step"]) for note in notes(name)
    )


def read(name: str, form: str) -> list[tuple[dict[str, Any], Draft]]:
    """The notes of one form, each with its draft."""
    pairs = zip(notes(name), drafts(name), strict=True)
    return [(note, draft) for note, draft in pairs if note["form"] == form]


def outcomes(note: dict[str, Any], draft: Draft) -> tuple[Outcome, ...]:
    expected = [Entry.of_contract(entry) for entry in note["expect"]]
    return score(
        shop()[note["card"]],
        expected,
        map(Entry.of_value, draft.values),
        [expected[index].key for index in note["ask"]],
    )


def told(note: dict[str, Any], outcome: Outcome) -> str:
    """One line on an outcome, for the message of a failure; a note set aside stays unread."""
    words = f"{note['id']} [{note['family']}] {outcome.verdict} {outcome.key}"
    if note["id"].startswith("h"):
        return words
    proposed = outcome.proposed and (outcome.proposed.value, outcome.proposed.unit)
    wanted = outcome.expected and (outcome.expected.value, outcome.expected.unit)
    return f"{words}: wanted {wanted}, got {proposed} in {note['text']!r}"


# --- the set itself ---------------------------------------------------------------


def test_the_set_is_as_large_and_as_untidy_as_it_should_be() -> None:
    every = [note for name in FILES for note in notes(name)]
    assert len(every) >= 400
    assert len({note["card"] for note in every}) >= 8
    assert {note["form"] for note in every} == set(FORMS)
    assert sum(note["form"] == "recognised" for note in every) >= len(every) * 0.3
    assert len(notes("heldout")) >= 300
    assert {note["card"] for note in notes("heldout")} - {note["card"] for note in notes("dev")}


@pytest.mark.parametrize("name", FILES)
def test_every_expectation_fits_its_card(name: str) -> None:
    for note in notes(name):
        keys = []
        for index, entry in enumerate(note["expect"]):
            step = shop()[note["card"]].step(entry["step"])
            field = step and step.field(entry["field"])
            assert field, note["id"]
            assert entry["position"] in field.places, note["id"]
            keys.append((entry["step"], entry["field"], entry["position"]))
            if index in note["ask"]:
                continue
            assert entry["value"] is not None, note["id"]
            if field.type == "measurement" and field.unit != "dimensionless":
                assert field.unit, note["id"]
                assert units.compatible(entry["unit"], field.unit), note["id"]
            if field.type == "choice":
                assert entry["value"] in field.options, note["id"]
        assert len(set(keys)) == len(keys), note["id"]
        assert set(note["ask"]) <= set(range(len(keys))), note["id"]
        assert all(words.lower() in note["text"].lower() for words in note.get("unplaced", ()))


def test_no_note_stands_in_both_files() -> None:
    dev, heldout = ({note["text"].casefold() for note in notes(name)} for name in FILES)
    assert not dev & heldout
    names = [note["id"] for name in FILES for note in notes(name)]
    assert len(set(names)) == len(names)


# --- what is read in it -----------------------------------------------------------


@pytest.mark.parametrize(("name", "form"), SETS)
def test_no_silent_error(name: str, form: str) -> None:
    silent = [
        told(note, outcome)
        for note, draft in read(name, form)
        for outcome in outcomes(note, draft)
        if outcome.silent and outcome.proposed is not None
    ]
    assert len(silent) <= REACHED[name, form].silent, "\n".join(silent)


@pytest.mark.parametrize(("name", "form"), SETS)
def test_values_are_right(name: str, form: str) -> None:
    found = [
        (note, outcome) for note, draft in read(name, form) for outcome in outcomes(note, draft)
    ]
    tally = Tally.of(outcome for _, outcome in found)
    faults = "\n".join(
        told(note, outcome) for note, outcome in found if outcome.verdict in ("wrong", "missed")
    )
    assert 100 * tally.right >= REACHED[name, form].right * tally.expected, f"{tally}\n{faults}"
    flagged = "\n".join(
        f"{told(note, outcome)}: {'; '.join(outcome.proposed.why)}"
        for note, outcome in found
        if outcome.verdict == "right" and outcome.proposed and outcome.proposed.flagged
    )
    least = REACHED[name, form].unflagged * tally.expected
    assert 100 * tally.right_unflagged >= least, f"{tally}\n{flagged}"


@pytest.mark.parametrize(("name", "form"), SETS)
def test_as_found_values_stay_visible(name: str, form: str) -> None:
    lost = [
        note["id"]
        for note, draft in read(name, form)
        for entry in note["expect"]
        if "as_found" in entry
        and not any(
            value.key == (entry["step"], entry["field"], entry["position"])
            and value.as_found == Entry.of_contract(entry | {"value": entry["as_found"]}).value
            for value in draft.values
        )
    ]
    most = REACHED[name, form].as_found_unseen
    assert len(lost) <= most, f"the as-found value is not shown: {', '.join(lost)}"


@pytest.mark.parametrize(("name", "form"), SETS)
def test_what_found_no_field_stays_visible(name: str, form: str) -> None:
    lost = [
        note["id"]
        for note, draft in read(name, form)
        for words in note.get("unplaced", ())
        if not any(
            words.casefold() in text.casefold()
            for text in (
                *(mention.text for mention in draft.unplaced),
                *(str(value.value) for value in draft.values),
            )
        )
    ]
    most = REACHED[name, form].words_unseen
    assert len(lost) <= most, f"said and shown nowhere: {', '.join(lost)}"
