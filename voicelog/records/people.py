"""People: who may do what, and the secret that each one signs with."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from voicelog import wire
from voicelog.errors import Conflict, Denied, NotFound, RecordError
from voicelog.records import keys
from voicelog.records.clock import stamp

if TYPE_CHECKING:
    from voicelog.records.clock import Clock
    from voicelog.records.connection import Connections
    from voicelog.records.keys import Cost
    from voicelog.records.ledger import Ledger
    from voicelog.records.settings import Settings

Role = Literal["mechanic", "reviewer", "clerk", "administrator"]
ROLES: tuple[Role, ...] = ("mechanic", "reviewer", "clerk", "administrator")
_ID = re.compile(r"[^\W_][\w.@-]{0,63}")


@dataclass(frozen=True, slots=True)
class Authorisation:
    """What a person may confirm (or inspect), and until when."""

    card: str = "*"
    """Number of the card, "*" for every card."""
    steps: tuple[str, ...] = ()
    """Numbers of the steps; none named: all steps of the card."""
    until: date | None = None
    """Last day on which it holds."""
    inspect: bool = False
    """Independent inspections too."""

    def covers(self, card: str, step: str, day: date, *, inspect: bool) -> bool:
        return (
            self.card in ("*", card)
            and (not self.steps or step in self.steps)
            and (self.until is None or day <= self.until)
            and (self.inspect or not inspect)
        )


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who acts in the store."""

    id: str
    name: str
    roles: tuple[Role, ...]
    certificate: str = ""
    certificate_kind: str = ""
    authorisations: tuple[Authorisation, ...] = ()
    active: bool = True
    keys: tuple[str, ...] = ()
    """Public halves of the person's keys, the one in use last; set by the store."""

    @property
    def certified(self) -> str:
        """Kind and number of the certificate, as a signature shows it."""
        return " ".join(filter(None, (self.certificate_kind, self.certificate)))

    def may(self, card: str, step: str, day: date, *, inspect: bool = False) -> bool:
        """Whether an authorisation covers `step` of `card` on `day`."""
        return any(a.covers(card, step, day, inspect=inspect) for a in self.authorisations)


class People:
    """The register of people. Nobody is ever removed: who left is made inactive."""

    def __init__(
        self,
        connections: Connections,
        ledger: Ledger,
        clock: Clock,
        cost: Cost,
        settings: Settings,
    ) -> None:
        self._connections = connections
        self._ledger = ledger
        self._clock = clock
        self._cost = cost
        self._settings = settings

    # --- register -------------------------------------------------------------------

    def add(self, person: Person, secret: str, *, by: str | None) -> Person:
        """Enter somebody with a first secret.

        `by` is the administrator who does it; None only for the first person of an empty
        home, who must be an administrator. Raises Denied, Conflict (id taken), RecordError.
        """
        self._check(person)
        self._check_secret(secret, person)
        seed = keys.new_seed()
        sealed = keys.seal(seed, secret, self._cost)
        person = replace(person, keys=(keys.public_of(seed),))
        with self._connections.writing() as db:
            if by is None:
                if db.execute("SELECT 1 FROM people LIMIT 1").fetchone():
                    raise Denied("an administrator of this home must add people; say who (--by)")
                if "administrator" not in person.roles:
                    raise RecordError("the first person of a home must be an administrator")
            else:
                self.require(by, "administrator")
            if db.execute("SELECT 1 FROM people WHERE id = ?", [person.id]).fetchone():
                raise Conflict(f"there is a person {person.id} already; choose another id")
            content = wire.canonical(person).decode()
            db.execute(
                "INSERT INTO people(id, content, sealed) VALUES (?, ?, ?)",
                [person.id, content, sealed],
            )
            self._ledger.append(
                "person added", "person", person.id, wire.digest(person), by=by or person.id
            )
        return person

    def update(self, person: Person, *, by: str) -> Person:
        """Change name, roles, certificate, authorisations or activity; keys stay as they are.

        Raises Denied unless `by` is an administrator, or if nobody could administer then.
        """
        self._check(person)
        with self._connections.writing() as db:
            self.require(by, "administrator")
            person = replace(person, keys=self.get(person.id).keys)
            self._write(person, "person changed", by)
            if not any(p.active and "administrator" in p.roles for p in self.list()):
                raise Denied("a home needs an active administrator; appoint another one first")
            del db
        return person

    def _write(self, person: Person, act: str, by: str) -> None:
        self._connections.db.execute(
            "UPDATE people SET content = ? WHERE id = ?",
            [wire.canonical(person).decode(), person.id],
        )
        self._ledger.append(act, "person", person.id, wire.digest(person), by=by)

    def get(self, id: str) -> Person:
        """Raises NotFound."""
        row = self._connections.db.execute(
            "SELECT content FROM people WHERE id = ?", [id]
        ).fetchone()
        if row is None:
            raise NotFound(f"no person {id!r}; add them with: voicelog person add")
        return _person(row[0])

    def list(self) -> tuple[Person, ...]:
        """Everybody, active or not, by id."""
        rows = self._connections.db.execute("SELECT content FROM people ORDER BY id").fetchall()
        return tuple(_person(content) for (content,) in rows)

    def require(self, id: str, *roles: Role) -> Person:
        """The person, who must be active and have one of `roles`. Raises NotFound, Denied."""
        person = self.get(id)
        if not person.active:
            raise Denied(f"{person.name} ({id}) is no longer active here")
        if roles and not set(roles) & set(person.roles):
            raise Denied(f"{person.name} ({id}) is no {' or '.join(roles)}; ask an administrator")
        return person

    def _check(self, person: Person) -> None:
        if not _ID.fullmatch(person.id) or person.id == "system":
            raise RecordError(
                f"{person.id!r} can't be an id: letters, digits, and . _ @ - after the first"
            )
        if not person.name.strip():
            raise RecordError("a person needs a name")
        unknown = set(person.roles) - set(ROLES)
        if unknown or not person.roles:
            raise RecordError(
                f"roles are {', '.join(ROLES)}; got {', '.join(sorted(unknown)) or 'none'}"
            )

    def _check_secret(self, secret: str, person: Person) -> None:
        shortest = self._settings.secrets.shortest
        if len(secret) < shortest:
            raise RecordError(f"a secret needs at least {shortest} characters")
        if secret.casefold() in (person.id.casefold(), person.name.casefold()):
            raise RecordError("a secret must not be the person's own name")

    # --- secrets --------------------------------------------------------------------

    def set_secret(self, id: str, new: str, *, by: str, old: str | None = None) -> None:
        """Give a person another secret.

        The person themselves gives the `old` one and keeps their key; an administrator
        (who must not know it) gives a new key with it, and earlier signatures stay
        verifiable by the earlier one. Raises Denied, NotFound, RecordError.
        """
        self._check_secret(new, self.get(id))
        if old is not None:
            if by != id:
                raise Denied(f"only {id} changes a secret by giving the old one")
            seed = self.unlock(id, old)
        else:
            self.require(by, "administrator")
            seed = keys.new_seed()
        sealed = keys.seal(seed, new, self._cost)
        with self._connections.writing() as db:
            person, public = self.get(id), keys.public_of(seed)
            if person.keys[-1] != public:
                if old is not None:
                    raise Conflict(f"the secret of {id} was just changed by somebody else")
                person = replace(person, keys=(*person.keys, public))
            db.execute(
                "UPDATE people SET sealed = ?, failures = 0, locked_until = NULL WHERE id = ?",
                [sealed, id],
            )
            self._write(person, "secret changed" if old is not None else "secret given anew", by)

    def authenticate(self, id: str, secret: str) -> Person:
        """The person, if `secret` is theirs; every try is a line in the ledger.

        Raises Denied with one and the same sentence for an unknown id and a wrong secret,
        and while the person is locked out.
        """
        self.unlock(id, secret)
        person = self.require(id)
        self._ledger.append("signed in", "person", id, wire.digest(person), by=id)
        return person

    def unlock(self, id: str, secret: str) -> bytes:
        """The private half of the person's key. Raises Denied.

        Wrong tries are counted across processes; from a certain number on, each one locks
        the person out for twice as long as the one before, even for the right secret.
        """
        row = self._connections.db.execute(
            "SELECT sealed, locked_until, content FROM people WHERE id = ?", [id]
        ).fetchone()
        if row is None:
            # The same work as for somebody who exists: the time taken tells nothing.
            keys.seal(bytes(32), secret, self._cost)
            self._ledger.append("secret refused", "sign-in", id[:64], by="system")
            raise Denied(_WRONG)
        self._check_lock(row[1])
        seed = keys.unseal(row[0], secret)
        if seed is None:
            self._count_failure(id)
            raise Denied(_WRONG)
        if keys.public_of(seed) != _person(row[2]).keys[-1]:
            raise Denied(f"the key of {id} is not the registered one; run: voicelog verify")
        with self._connections.writing() as db:
            row = db.execute("SELECT locked_until FROM people WHERE id = ?", [id]).fetchone()
            self._check_lock(row[0])
            db.execute(
                "UPDATE people SET failures = 0, locked_until = NULL"
                " WHERE id = ? AND (failures > 0 OR locked_until IS NOT NULL)",
                [id],
            )
        return seed

    def _check_lock(self, until: str | None) -> None:
        if until is not None and self._clock.now() < datetime.fromisoformat(until):
            raise Denied(
                f"too many wrong secrets: locked until {until[11:16]}; "
                "wait, or ask an administrator for a new secret"
            )

    def _count_failure(self, id: str) -> None:
        rule = self._settings.secrets
        with self._connections.writing() as db:
            failures = (
                1 + db.execute("SELECT failures FROM people WHERE id = ?", [id]).fetchone()[0]
            )
            delay_s = 0.0
            if failures >= rule.tries:
                delay_s = min(
                    rule.first_delay_s * 2.0 ** min(failures - rule.tries, 30), rule.longest_delay_s
                )
            until = stamp(self._clock.now() + timedelta(seconds=delay_s)) if delay_s else None
            db.execute(
                "UPDATE people SET failures = ?, locked_until = ? WHERE id = ?",
                [failures, until, id],
            )
            self._ledger.append(
                "secret refused", "person", id, wire.digest(self.get(id)),
                detail={"failures": failures, "locked_until": until or ""},
            )  # fmt: skip


_WRONG = "id or secret is wrong"


def _person(content: str) -> Person:
    import json

    return wire.from_plain(Person, json.loads(content))
