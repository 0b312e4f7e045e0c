"""Changes: whether "from ... to ..." tells what something was before work on it, and then.

Common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from voicelog.reading.atoms import Atom

_CHANGED = frozenset({
    "went", "gone", "goes", "came", "brought", "taken", "took", "raised", "lowered", "increased",
    "reduced", "adjusted", "changed", "reset", "charged", "pumped", "bled", "tightened",
    "slackened", "retorqued", "inflated", "topped", "grew", "grown", "it", "them", "up", "down",
})  # fmt: skip
"""Words before "from" that tell of a change, not of a range."""
_PARTICLES = frozenset({"it", "them", "up", "down"})
_CLAUSES = frozenset({
    "and", "apart", "but", "is", "measurements", "reading", "readings", "reads", "then", "was",
})  # fmt: skip
"""Words behind a verb that make its object none that was changed."""
_THE = frozenset({"all", "both", "each", "her", "his", "its", "our", "that", "the", "this"})
_OBJECT = 7
"""Words before "from" from the verb on, at most."""
_SPREAD = frozenset({"allowed", "measured", "needed", "permitted", "ranged", "spread", "varied"})
"""Verbs whose "from ... to ..." is a range nevertheless."""


def is_change(atoms: Sequence[Atom], at: int) -> bool:
    """Whether a change is told before "from" at `at`, perhaps with what was changed between:
    "topped the accumulator from sixty two up to seventy five bar"."""
    verb = atoms[at - 1].text
    if verb in _CHANGED or (verb.endswith("ed") and verb not in _SPREAD):
        return True
    behind = ""
    for atom in reversed(atoms[max(0, at - _OBJECT) : at]):
        if not atom.text.isalpha() or atom.text in _CLAUSES:
            return False
        if atom.text in _CHANGED - _PARTICLES:
            return behind in _THE  # "took somewhere from five to six seconds" is a range
        behind = atom.text
    return False
