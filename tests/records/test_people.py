"""People: roles, scopes, secrets and locking out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.records.scene import CHEAP, SECRET, StandingClock
from voicelog.errors import Conflict, Denied, NotFound, RecordError
from voicelog.records import Person, Store, keys
from voicelog.records.people import Role


@pytest.fixture
def empty(home: Path, clock: StandingClock) -> Any:
    with Store.open(home, clock=clock, cost=CHEAP) as store:
        yield store


def test_the_first_person_must_be_an_administrator(empty: Store) -> None:
    with pytest.raises(RecordError, match="must be an administrator"):
        empty.people.add(Person("tom", "Tom Alder", ("mechanic",)), SECRET, by=None)
    empty.people.add(Person("ada", "Ada Birch", ("administrator",)), SECRET, by=None)
    with pytest.raises(Denied, match="an administrator of this home must add people"):
        empty.people.add(Person("eve", "Eve Sloe", ("administrator",)), SECRET, by=None)
    assert [p.id for p in empty.people.list()] == ["ada"]


@pytest.mark.parametrize("by", ["tom", "ruth", "cleo"])
def test_only_an_administrator_enters_or_changes_people(store: Store, by: str) -> None:
    with pytest.raises(Denied, match="is no administrator"):
        store.people.add(Person("eve", "Eve Sloe", ("mechanic",)), SECRET, by=by)
    me = replace(store.people.get(by), roles=("administrator",))
    with pytest.raises(Denied, match="is no administrator"):
        store.people.update(me, by=by)
    with pytest.raises(Denied, match="is no administrator"):
        store.people.set_secret("ada", "stolen secret", by=by)
    store.people.authenticate("ada", SECRET)


@pytest.mark.parametrize(
    ("person", "secret", "message"),
    [
        (Person("", "Eve", ("clerk",)), SECRET, "can't be an id"),
        (Person("eve sloe", "Eve", ("clerk",)), SECRET, "can't be an id"),
        (Person("system", "Eve", ("clerk",)), SECRET, "can't be an id"),
        (Person("eve\n", "Eve", ("clerk",)), SECRET, "can't be an id"),
        (Person("eve", " ", ("clerk",)), SECRET, "needs a name"),
        (Person("eve", "Eve", ()), SECRET, "got none"),
        (Person("eve", "Eve", ("pilot",)), SECRET, "got pilot"),  # type: ignore[arg-type]
        (Person("eve", "Eve", ("clerk",)), "short", "at least 8 characters"),
        (Person("eve", "Evelyn Sloe", ("clerk",)), "evelyn sloe", "own name"),
    ],
)
def test_what_makes_no_person(store: Store, person: Person, secret: str, message: str) -> None:
    with pytest.raises(RecordError, match=message):
        store.people.add(person, secret, by="ada")


def test_an_id_is_taken_once(store: Store) -> None:
    with pytest.raises(Conflict, match="already"):
        store.people.add(Person("tom", "Tom Other", ("clerk",)), SECRET, by="ada")


def test_the_last_administrator_stays(store: Store) -> None:
    ada = store.people.get("ada")
    for changed in (replace(ada, active=False), replace(ada, roles=("clerk",))):
        with pytest.raises(Denied, match="needs an active administrator"):
            store.people.update(changed, by="ada")
    assert store.people.get("ada") == ada


def test_a_change_never_touches_the_keys(store: Store) -> None:
    tom = store.people.get("tom")
    forged = replace(tom, name="Tom Alder-Ash", keys=("00" * 32,))
    assert store.people.update(forged, by="ada").keys == tom.keys


def test_a_wrong_secret_and_an_unknown_person_read_the_same(store: Store) -> None:
    for id, secret in (("tom", "wrong secret"), ("nobody", SECRET)):
        with pytest.raises(Denied, match=r"^id or secret is wrong$"):
            store.people.authenticate(id, secret)
    with pytest.raises(NotFound):
        store.people.get("nobody")


def test_every_sign_in_is_in_the_ledger(store: Store) -> None:
    store.people.authenticate("tom", SECRET)
    with pytest.raises(Denied):
        store.people.authenticate("tom", "wrong secret")
    acts = [(line.act, line.by) for line in store.ledger.lines(kind="person", subject="tom")]
    assert acts[-2:] == [("signed in", "tom"), ("secret refused", "system")]


def fail(store: Store, times: int) -> None:
    for _ in range(times):
        with pytest.raises(Denied):
            store.people.authenticate("tom", "wrong secret")


def test_wrong_secrets_lock_out_for_longer_and_longer(store: Store, clock: StandingClock) -> None:
    fail(store, 4)
    store.people.authenticate("tom", SECRET)
    fail(store, 5)  # the count began anew with the right secret; the fifth one locks
    with pytest.raises(Denied, match="locked until 09:00"):
        store.people.authenticate("tom", SECRET)
    clock.forward(seconds=31)
    fail(store, 1)
    clock.forward(seconds=31)
    with pytest.raises(Denied, match="locked until"):
        store.people.authenticate("tom", SECRET)
    clock.forward(seconds=30)
    for _ in range(10):
        fail(store, 1)
        clock.forward(hours=1, seconds=1)
    assert store.people.authenticate("tom", SECRET).id == "tom"


def test_locking_out_outlasts_a_restart(store: Store, clock: StandingClock) -> None:
    fail(store, 5)
    with (
        Store.open(store.home, clock=clock, cost=CHEAP) as other,
        pytest.raises(Denied, match="locked until"),
    ):
        other.people.authenticate("tom", SECRET)


def test_nobody_else_is_locked_out(store: Store) -> None:
    fail(store, 6)
    assert store.people.authenticate("ruth", SECRET).id == "ruth"


def test_a_new_secret_from_an_administrator_ends_a_lock_out(store: Store) -> None:
    fail(store, 5)
    store.people.set_secret("tom", "given by ada", by="ada")
    assert store.people.authenticate("tom", "given by ada").id == "tom"
    with pytest.raises(Denied):
        store.people.authenticate("tom", SECRET)
    assert len(store.people.get("tom").keys) == 2


def test_changing_ones_own_secret_needs_the_old_one_and_keeps_the_key(store: Store) -> None:
    before = store.people.get("tom").keys
    with pytest.raises(Denied):
        store.people.set_secret("tom", "my new secret", by="tom", old="wrong secret")
    with pytest.raises(Denied, match="only tom"):
        store.people.set_secret("tom", "my new secret", by="ada", old=SECRET)
    store.people.set_secret("tom", "my new secret", by="tom", old=SECRET)
    assert store.people.get("tom").keys == before
    assert store.people.authenticate("tom", "my new secret").id == "tom"
    with pytest.raises(RecordError, match="at least 8"):
        store.people.set_secret("tom", "short", by="tom", old="my new secret")


@pytest.mark.parametrize("roles", [("mechanic",), ("mechanic", "clerk")])
def test_roles(store: Store, roles: tuple[Role, ...]) -> None:
    store.people.update(replace(store.people.get("tom"), roles=roles), by="ada")
    store.people.require("tom", "mechanic", "reviewer")
    with pytest.raises(Denied, match="is no reviewer or administrator"):
        store.people.require("tom", "reviewer", "administrator")


def test_secrets_are_not_stored(store: Store) -> None:
    files = [path for path in store.home.rglob("*") if path.is_file()]
    assert files
    for path in files:
        assert SECRET.encode() not in path.read_bytes()


def test_a_seal_opens_with_its_secret_only() -> None:
    seed = keys.new_seed()
    sealed = keys.seal(seed, "ångström 7", CHEAP)
    assert keys.unseal(sealed, "a\u030angstro\u0308m 7") == seed, "composed or not is the same"
    assert keys.unseal(sealed, "angstrom 7") is None


def test_an_exchanged_seal_can_not_sign(store: Store) -> None:
    theirs = keys.seal(keys.new_seed(), "mine entirely", CHEAP)
    store.connections.db.execute("UPDATE people SET sealed = ? WHERE id = 'ruth'", [theirs])
    with pytest.raises(Denied, match="not the registered one"):
        store.people.unlock("ruth", "mine entirely")


def test_signatures() -> None:
    seed = keys.new_seed()
    signature = keys.sign(seed, b"98 N*m")
    assert keys.verify(keys.public_of(seed), b"98 N*m", signature)
    assert not keys.verify(keys.public_of(seed), b"99 N*m", signature)
    assert not keys.verify(keys.public_of(keys.new_seed()), b"98 N*m", signature)
    assert not keys.verify("no key", b"98 N*m", signature)


def test_ed25519_is_that_of_the_standard() -> None:
    # RFC 8032 section 7.1, test 2
    seed = bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")
    public = "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"
    signature = (
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    assert keys.public_of(seed) == public
    assert keys.sign(seed, b"\x72") == signature
