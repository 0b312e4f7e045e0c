"""The chain of reading stages on a spaCy pipeline.

A stage is one function over the document, in a file of its own, that says which
attributes of the document it reads (`requires`) and which it writes (`assigns`), in
spaCy's notation. The order of the stages is data (`stages` in models_config/reading.toml);
spaCy's own `analyze_pipes` finds a stage that reads what nobody has written yet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelog.errors import ConfigError
from voicelog.reading.passage import Passage

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from spacy.language import Language
    from spacy.tokens import Doc
    from spacy.vocab import Vocab

    from voicelog.reading.cues import Cues

PASSAGE = "doc._.passage"


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage: what it is called, what it reads and writes, and what it does."""

    name: str
    requires: tuple[str, ...]
    assigns: tuple[str, ...]
    run: Callable[[Doc], None]


def stage(
    name: str, *, requires: Iterable[str] = (PASSAGE,), assigns: Iterable[str] = ()
) -> Callable[[Callable[[Doc], None]], Stage]:
    """Declare the decorated function as the stage `name`.

    Without `assigns` it writes `doc._.<name>`, a list of mentions.
    """
    written = tuple(assigns) or (f"doc._.{name}",)
    return lambda run: Stage(name, tuple(requires), written, run)


_PREPARE = stage("passage", requires=(), assigns=(PASSAGE,))(lambda _doc: None)
"""Stands for the making of the document, which sets `doc._.passage`."""


def pipeline(order: Iterable[str], stages: Mapping[str, Stage]) -> Language:
    """A blank pipeline with the stages in `order`; it needs no language, for we cut the tokens.

    Raises ConfigError when `order` names an unknown stage, or one before what it needs.
    """
    from spacy.language import Language
    from spacy.tokens import Doc

    nlp = Language(create_tokenizer=lambda nlp: lambda _text: Doc(nlp.vocab))
    order = tuple(order)
    for name in order:
        if name not in stages:
            raise ConfigError(
                f"reading.toml: stages names {name!r}; known are: {', '.join(sorted(stages))}"
            )
    for step in (_PREPARE, *(stages[name] for name in order)):
        for attribute in step.assigns:
            extension = attribute.removeprefix("doc._.")
            if not Doc.has_extension(extension):
                Doc.set_extension(extension, default=None)
        component = f"voicelog_{step.name}"
        Language.component(
            component,
            requires=list(step.requires),
            assigns=list(step.assigns),
            func=_component(step),
        )
        nlp.add_pipe(component, name=step.name)
    analysis = nlp.analyze_pipes() or {"problems": {}}
    problems = {name: found for name, found in analysis["problems"].items() if found}
    if problems:
        told = "; ".join(f"{name} needs {', '.join(found)}" for name, found in problems.items())
        raise ConfigError(f"reading.toml: stages are out of order: {told}")
    return nlp


def _component(step: Stage) -> Callable[[Doc], Doc]:
    def component(doc: Doc) -> Doc:
        step.run(doc)
        return doc

    return component


def document(nlp: Language, text: str, cues: Cues) -> Doc:
    """A document for the stages to write on, with the passage of `text` prepared.

    It has no tokens: few passages need any, and they would cost more than most stages.
    """
    from spacy.tokens import Doc

    doc = Doc(nlp.vocab)
    doc._.passage = Passage.of(text, cues)
    return doc


def tokens(vocab: Vocab, passage: Passage) -> Doc:
    """A document whose tokens are the atoms of `passage`."""
    from spacy.tokens import Doc

    text = passage.text
    words: list[str] = []
    spaces: list[bool] = []
    at = 0
    for atom in passage.atoms:
        gap = text[at : atom.start]
        if gap == " " and words:
            spaces[-1] = True
        elif gap:
            words.append(gap)
            spaces.append(False)
        words.append(text[atom.start : atom.end])
        spaces.append(False)
        at = atom.end
    if text[at:]:
        words.append(text[at:])
        spaces.append(False)
    return Doc(vocab, words=words, spaces=spaces)
