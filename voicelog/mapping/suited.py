"""Suited: what a value by itself has to say for a field and against it."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING

from voicelog.mapping import beside, lent, unit_lists
from voicelog.mapping.adjusted import LEFT
from voicelog.mapping.fit import Fit, fit
from voicelog.mapping.unit_fit import compatible
from voicelog.mapping.whereabouts import Whereabouts
from voicelog.reading.percard import fields_of
from voicelog.reading.states import told_state
from voicelog.reading.talk import talk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.mapping.row import Cue, Events, Said, Spot
    from voicelog.objects import Card, Field
    from voicelog.reading.lexicon import Lexicon, Place

_TELLING = 60
"""Characters before a number that may tell what it is of."""
_HOW_FAR = re.compile(
    r"\bby\s+(?:about\s+|around\s+)?$"
    r"|\b(?:s[ia]t(?:s|ting)?|st(?:and(?:s|ing)?|ood)|h(?:angs?|anging|ung)|l(?:ies|ying|ean(?:s|ing)?))\s+"
    r"(?:back|down|in|off|out|over|proud|up)\s+(?:about\s+|around\s+)?$"
    r"|\b(?:could|can)\s+(?!(?:only\s+|just\s+)?(?:get|read|see|reach|measure|make)\b)[a-z]+\b[^,.;]*$",
    re.IGNORECASE,
)
""" "Bent by two millimetres", "sitting back two millimetres", "I could push a blade four
millimetres in": how far something goes, and no reading of a field that nobody named."""
_MOMENT = re.compile(r"\s*,?\s*(?:at|on|in|from|after|before|during|until)\s+", re.IGNORECASE)


class Suited(Whereabouts):
    """Finds the fields of one card that suit the values of one note."""

    def __init__(self, events: Events, card: Card, lexicon: Lexicon) -> None:
        super().__init__(events)
        self.lexicon = lexicon
        self.fields = fields_of(card)
        self._fits: dict[int, dict[Place, Fit | None]] = {}
        """What `fit` found for a value (by its identity) in a field."""
        self._by_step: dict[tuple[int, str | None], list[tuple[Place, Fit, float | None]]] = {}
        """The fields of a step that suit a value (by its identity)."""
        self._settled: set[tuple[int, Place]] = set()
        """Names (by where they begin) that a value with its unit has borne out for a field."""

    def _fit_anew(self, said: Said, place: Place) -> Fit | None:
        field_ = self.fields[place]
        if "total" in said.tags or lent.is_strange(said, field_):
            return None
        if field_.type == "measurement" and beside.counts_things(self.events, said, field_):
            return None
        suited = fit(said, field_, place, self.lexicon)
        if suited is not None and field_.type == "measurement":
            # "left forty four, right forty five pounds"
            headed = place in self.events.units and lent.is_bare(self.events, said)
            lends = headed or lent.around(self.events, said, field_)
            more = 0.4 + 0.4 * bool(LEFT & said.tags)
            suited = suited._replace(score=suited.score + more) if lends else suited
        elif suited is not None and field_.type == "count" and field_.positions:
            suited = suited._replace(score=suited.score - 0.6 * self._is_measured(said))
        return suited

    def _is_measured(self, said: Said) -> bool:
        """Whether a bare number goes on with a list of what was measured, and counts nothing:
        "ninety bar left, ninety two right"."""
        if not lent.is_bare(self.events, said):
            return False
        units = unit_lists.list_units(self.events, said)
        return any("/" not in each for names in units for each in names)

    def _may_tell_of(self, said: Said, cue: Cue) -> bool:
        """Whether a state that a label asks for, or an option, may be one of what a name names:
        "seated at 150, final 60, locked" tells of no torque."""
        asked = said.option is not None or "predicate" in said.mention.qualifiers
        return not asked or any(self.fields[each].type != "measurement" for each in cue.places)

    def _suited(self, said: Said, step: str | None) -> Sequence[tuple[Place, Fit, float | None]]:
        """The fields of a step, or of the card, in which a value can stand at all, with what the
        value by itself speaks for each."""
        known = id(said), step
        found = self._by_step.get(known)
        if found is None:
            fits = self._fits.setdefault(id(said), {})
            found = []
            for place, field_ in () if self._tells_how_far(said) else self.fields.items():
                if step and place[0] != step:
                    continue
                if place not in fits:
                    fits[place] = self._fit_anew(said, place)
                suited = fits[place]
                if suited is not None:
                    found.append((place, suited, self._alone(said, field_, suited)))
            self._by_step[known] = found
        return found

    def _is_only(
        self, said: Said, place: Place, step: str | None, spot: Spot | None = None
    ) -> bool:
        """Whether no other field of the step takes the unit that was said, at the place that was
        said: "duty pump nineteen amps and twenty six litres a second"."""
        led = [each for each, _, alone in self._suited(said, step) if alone is not None]
        if spot is not None and len(led) > 1:
            led = [each for each in led if self._suits(spot, self.fields[each])]
        return led == [place]

    def _borne_out(
        self, said: Said, place: Place, step: str | None, cue: Cue | None, spot: Spot | None
    ) -> bool:
        """Whether the unit, the option or the form of a code leads to the field as well, and to
        no other of the step: "brake out twenty two newton metres" is the breakout torque, and so
        is what follows of other places, without a unit."""
        named = (cue.start, place) if cue is not None else None
        telling = said.kind == "quantity" or said.option is not None
        telling = telling or f"field:{place[1]}" in said.mention.qualifiers
        if telling and not said.doubts and self._is_only(said, place, step, spot):
            if named is not None:
                self._settled.add(named)
            return True
        return said.kind == "count" and spot is not None and named in self._settled

    def _is_moment(self, cue: Cue, said: Said) -> bool:
        """ "35 at start": when it was so, and no name of what is counted, though starts are."""
        behind = said.is_number and cue.start >= said.end and cue.canonical in self.lexicon.counted
        single = behind and not cue.plural
        return single and _MOMENT.fullmatch(self.events.text, said.end, cue.start) is not None

    def _tells_how_far(self, said: Said) -> bool:
        before = self.events.text[max(0, said.start - _TELLING) : said.start]
        return said.is_number and (_HOW_FAR.search(before) is not None or self._is_span(said))

    def _is_span(self, said: Said) -> bool:
        """Whether a number tells in what time the one before it came to be: "point two bar in five
        minutes"."""
        index = bisect_left(self.events.said, said.start, key=lambda each: each.start) - 1
        before = self.events.said[index] if index >= 0 else None
        if before is None or not before.is_number or before.mention.unit is None:
            return False
        timed = compatible(said.mention.unit or "", "second")
        between = self.events.text[before.end : said.start].lower().split()
        return timed and " ".join(between) in {"in", "in the", "over", "within"}

    def _alone(self, said: Said, field_: Field, suited: Fit) -> float | None:
        if self._speaks_for_itself(said, field_, suited):
            return 0.5
        if said.spot is not None and said.spot.words and self._suits(said.spot, field_):
            return 0.9
        return None

    def _speaks_for_itself(self, said: Said, target: Field, suited: Fit) -> bool:
        if target.type == "measurement":
            return suited.unit is not None and suited.score > 0.5
        if target.type == "count":
            return "/" in (said.mention.unit or "") and suited.score > 0  # "eight drops a minute"
        if target.type == "identifier":
            return f"field:{target.name}" in said.mention.qualifiers
        if target.type == "choice":
            return said.option is not None
        if target.type == "ratio":
            return True
        return target.type == "date"

    def _asks_for(self, said: Said, spot: Spot, place: Place) -> bool:
        """ "Flute tuned": what one check of the step asks, right behind a place of it alone."""
        row, states = self.events, self.lexicon.states
        told = told_state(said.mention) if said.kind == "remark" else None
        if told is None or spot.end > said.start or states.get(place) != told:
            return False
        if [each for each in states if each[0] == place[0] and states[each] == told] != [place]:
            return False
        begin = row.clause_start(said.start)
        return begin <= spot.start and not row.unexplained(begin, said.start, begin)

    def _says_of_another(self, said: Said, place: Place) -> bool:
        """Whether a remark says what another check of the step asks, or how a thing is where the
        check asks something else: "pawl holds, north one isn't greased" is no word on the pawl,
        nor "south rack greased, north one dry" on the grease."""
        states = self.lexicon.states
        predicate = told_state(said.mention)
        if predicate is None:
            if place not in states or said.mention.value != "pass":
                return False  # a fault is one, whatever the check asks
            done = said.mention.text.lower() in talk().remarks.undone
            return "state" in said.mention.qualifiers and not done
        return states.get(place) != predicate and any(
            state == predicate and other[0] == place[0] for other, state in states.items()
        )
