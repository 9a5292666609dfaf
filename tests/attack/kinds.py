"""Tampering with the rows: their values, their contents, their signatures, and whether they are there. Each is done to
rows chosen by chance."""

from __future__ import annotations

import random
from uuid import uuid4

from checklists.record.leaf import ENTRY
from clinic.audit.leaf import TRAIL
from clinic.ledger import keys
from clinic.ledger.sources import Source
from tests.attack.hands import a_sealed, did, restamp, rows
from tests.attack.listed import attack
from tests.attack.world import World


def set_one(source: Source, column: str, to: str, rng: random.Random, more: str = "") -> int:
    number = a_sealed(source, rng, more)
    assert did(f"UPDATE {source.table} SET {column} = {to} WHERE number = %s", [number]) == 1
    return number


# --- values -----------------------------------------------------------------------------------------------------------
@attack
def change_a_kind(world: World, rng: random.Random) -> None:
    set_one(ENTRY, "kind", "kind || 'x'", rng)


@attack
def change_a_time(world: World, rng: random.Random) -> None:
    column = rng.choice(["at", "received_at"])
    set_one(ENTRY, column, f"{column} + interval '{rng.randint(1, 10**6)} microseconds'", rng)


@attack
def change_an_author(world: World, rng: random.Random) -> None:
    column = rng.choice(["by_id", "sender_id"])
    number = a_sealed(ENTRY, rng)
    other = f"(SELECT id FROM clinic_staff s WHERE s.id <> checklists_entry.{column} ORDER BY id LIMIT 1)"
    assert did(f"UPDATE checklists_entry SET {column} = {other} WHERE number = %s", [number]) == 1


@attack
def change_a_door(world: World, rng: random.Random) -> None:
    set_one(ENTRY, "door", "CASE door WHEN 'page' THEN 'api' ELSE 'page' END", rng)


@attack
def change_a_commitment(world: World, rng: random.Random) -> None:
    set_one(ENTRY, "commitment", "sha256(commitment)", rng)


@attack
def give_an_entry_to_another_episode(world: World, rng: random.Random) -> None:
    other = "(SELECT id FROM caseload_episode e WHERE e.id <> checklists_entry.episode_id ORDER BY id LIMIT 1)"
    set_one(ENTRY, "episode_id", other, rng)


@attack
def change_the_trail(world: World, rng: random.Random) -> None:
    column, to = rng.choice(
        [
            ("verb", "verb || '.not'"),
            ("actor_id", "CASE WHEN actor_id IS NULL THEN (SELECT min(id::text)::uuid FROM clinic_staff) END"),
            ("subject_id", "subject_id || '0'"),
            ("origin", "origin || '0'"),
            ("at", f"at - interval '{rng.randint(1, 10**9)} microseconds'"),
            ("detail_text", """'{"nothing":true}'"""),
        ]
    )
    set_one(TRAIL, column, to, rng)


@attack
def change_leaf_or_mac(world: World, rng: random.Random) -> None:
    column = rng.choice(["leaf", "mac"])
    set_one(rng.choice([ENTRY, TRAIL]), column, f"sha256({column})", rng)


@attack
def change_and_stamp_anew(world: World, rng: random.Random) -> None:
    number = set_one(ENTRY, "kind", "'fall'", rng, "AND t.kind <> 'fall'")
    restamp(ENTRY, number, mac_key=rng.choice([None, keys.mac_key()]))


@attack
def change_before_it_is_sealed(world: World, rng: random.Random) -> None:
    newest = "(SELECT max(number) FROM checklists_entry)"
    assert did(f"UPDATE checklists_entry SET at = at - interval '1 day' WHERE number = {newest}") == 1
    if rng.random() < 0.5:
        ((number,),) = rows("SELECT max(number) FROM checklists_entry")
        restamp(ENTRY, number, mac_key=None)


# --- contents and signatures ------------------------------------------------------------------------------------------
_WITH_CONTENT = "AND EXISTS (SELECT FROM checklists_entrycontent c WHERE c.entry_id = t.id)"
_SIGNED = "AND EXISTS (SELECT FROM checklists_signature s WHERE s.entry_id = t.id)"


def _of_entry(table: str, column: str, to: str, rng: random.Random, more: str) -> None:
    number = a_sealed(ENTRY, rng, more)
    which = "entry_id = (SELECT id FROM checklists_entry WHERE number = %s)"
    assert did(f"UPDATE {table} SET {column} = {to} WHERE {which}", [number]) == 1


@attack
def change_a_content(world: World, rng: random.Random) -> None:
    to = rng.choice(["replace(body, '\"', ' \"')", "body || ' '", "'{}'"])
    _of_entry("checklists_entrycontent", "body", to, rng, _WITH_CONTENT)


@attack
def change_a_salt(world: World, rng: random.Random) -> None:
    _of_entry("checklists_entrycontent", "salt", "substr(sha256(salt), 1, 16)", rng, _WITH_CONTENT)


@attack
def swap_two_contents(world: World, rng: random.Random) -> None:
    one, two = rng.sample([key for (key,) in rows("SELECT entry_id FROM checklists_entrycontent ORDER BY 1")], 2)
    did(
        "UPDATE checklists_entrycontent c SET body = o.body, salt = o.salt FROM checklists_entrycontent o"
        " WHERE (c.entry_id, o.entry_id) IN ((%s, %s), (%s, %s))",
        [one, two, two, one],
    )


@attack
def take_a_content_away(world: World, rng: random.Random) -> None:
    number = a_sealed(ENTRY, rng, _WITH_CONTENT)
    for table in ("checklists_signature", "checklists_signedevidence", "checklists_entrycontent"):
        did(f"DELETE FROM {table} WHERE entry_id = (SELECT id FROM checklists_entry WHERE number = %s)", [number])


@attack
def take_a_content_away_with_a_forged_erasure(world: World, rng: random.Random) -> None:
    staff = "(SELECT {}(id::text)::uuid FROM clinic_staff)"
    facts = (
        "SELECT FROM checklists_entry t JOIN checklists_entrycontent c ON c.entry_id = t.id WHERE t.episode_id = e.id"
    )
    ((person, asker, lead),) = rows(
        f"SELECT e.person_id, {staff.format('min')}, {staff.format('max')} FROM caseload_episode e"
        f" WHERE EXISTS ({facts}) ORDER BY e.id LIMIT 1"
    )
    forged = str(uuid4())
    did(
        "INSERT INTO checklists_erasure (id, person_id, ground, reason, overrides_retention, asked_by_id, asked_at)"
        " VALUES (%s, %s, 'forged', 'forged', true, %s, now())",
        [forged, person, asker],
    )
    did(
        "INSERT INTO checklists_erasuredecision (erasure_id, confirmed, reason, decided_by_id, decided_at)"
        " VALUES (%s, true, '', %s, now())",
        [forged, lead],
    )
    did("INSERT INTO checklists_erased (erasure_id, at, counts) VALUES (%s, now(), '{}')", [forged])
    did(
        "DELETE FROM checklists_entrycontent WHERE entry_id IN (SELECT t.id FROM checklists_entry t"
        " JOIN caseload_episode e ON e.id = t.episode_id WHERE e.person_id = %s)",
        [person],
    )


@attack
def copy_a_signature(world: World, rng: random.Random) -> None:
    signed = [key for (key,) in rows("SELECT entry_id FROM checklists_signature ORDER BY 1")]
    target, source = rng.sample(signed, 2)
    for table, columns in (
        ("checklists_signature", ("text", "digest", "signer_name", "meaning", "signed_at", "shown")),
        ("checklists_signedevidence", ("evidence", "digest", "statement", "signer_name")),
    ):
        sets = ", ".join(f"{column} = o.{column}" for column in columns)
        did(f"UPDATE {table} c SET {sets} FROM {table} o WHERE c.entry_id = %s AND o.entry_id = %s", [target, source])


@attack
def change_what_was_signed(world: World, rng: random.Random) -> None:
    table, column, to = rng.choice(
        [
            ("checklists_signature", "text", "replace(text, 'approval', 'review')||' '"),
            ("checklists_signature", "signer_name", "'Somebody Else'"),
            ("checklists_signature", "meaning", "CASE meaning WHEN 'review' THEN 'approval' ELSE 'review' END"),
            ("checklists_signature", "signed_at", "signed_at - interval '1 day'"),
            ("checklists_signature", "shown", "shown || 'x'"),
            ("checklists_signedevidence", "evidence", "evidence || ' '"),
            ("checklists_signedevidence", "statement", "statement || ' Also on stairs.'"),
            ("checklists_signedevidence", "signer_name", "'Somebody Else'"),
        ]
    )
    _of_entry(table, column, to, rng, _SIGNED)


@attack
def take_a_signature_away(world: World, rng: random.Random) -> None:
    number = a_sealed(ENTRY, rng, _SIGNED)
    which = "entry_id = (SELECT id FROM checklists_entry WHERE number = %s)"
    did(f"DELETE FROM {rng.choice(['checklists_signature', 'checklists_signedevidence'])} WHERE {which}", [number])


# --- rows -------------------------------------------------------------------------------------------------------------
def delete(source: Source, where: str, values: list[object]) -> None:
    if source is ENTRY:
        for table in ("checklists_signature", "checklists_signedevidence", "checklists_entrycontent"):
            did(f"DELETE FROM {table} WHERE entry_id IN (SELECT id FROM checklists_entry WHERE {where})", values)
    assert did(f"DELETE FROM {source.table} WHERE {where}", values) > 0


@attack
def delete_a_row(world: World, rng: random.Random) -> None:
    source = rng.choice([ENTRY, TRAIL])
    delete(source, "number = %s", [a_sealed(source, rng)])


@attack
def delete_the_oldest(world: World, rng: random.Random) -> None:
    source = rng.choice([ENTRY, TRAIL])
    delete(source, f"number = (SELECT min(number) FROM {source.table})", [])


@attack
def delete_the_newest_sealed(world: World, rng: random.Random) -> None:
    source = rng.choice([ENTRY, TRAIL])
    last = f"(SELECT max(number) FROM clinic_ledgerleaf WHERE source = {source.code})"
    delete(source, f"number > {last} - %s", [rng.randint(1, 5)])


@attack
def delete_an_episode(world: World, rng: random.Random) -> None:
    episode = rng.choice(rows("SELECT DISTINCT episode_id FROM checklists_entry ORDER BY 1"))[0]
    delete(ENTRY, "episode_id = %s", [episode])
    if rng.random() < 0.5:
        did("DELETE FROM clinic_trailrow WHERE episode = %s", [episode])


_COPIED = "episode_id, kind, by_id, received_at, sender_id, door, commitment, leaf, mac"


@attack
def insert_in_the_past(world: World, rng: random.Random) -> None:
    """A copy of a fact, an hour earlier, with its stamp copied, under a number of its own."""
    number = a_sealed(ENTRY, rng)
    how = rng.choice(["max(number) + 1", "min(number) - 1"])
    did(
        f"INSERT INTO checklists_entry (number, id, at, {_COPIED}) SELECT (SELECT {how} FROM checklists_entry), %s,"
        f" at - interval '1 hour', {_COPIED} FROM checklists_entry WHERE number = %s",
        [str(uuid4()), number],
    )
    ((added,),) = rows(f"SELECT {how.split(')', maxsplit=1)[0]}) FROM checklists_entry")
    if rng.random() < 0.5:
        restamp(ENTRY, added, mac_key=None)


@attack
def insert_in_the_trail(world: World, rng: random.Random) -> None:
    columns = "at, actor_id, verb, subject, subject_id, episode, origin, detail_text, leaf, mac"
    did(
        f"INSERT INTO clinic_trailrow (number, {columns}) SELECT (SELECT max(number) + 1 FROM clinic_trailrow),"
        f" {columns} FROM clinic_trailrow WHERE number = %s",
        [a_sealed(TRAIL, rng)],
    )


@attack
def swap_two_numbers(world: World, rng: random.Random) -> None:
    source = rng.choice([ENTRY, TRAIL])
    one, two = sorted({a_sealed(source, rng) for _ in range(50)})[:2]
    for old, new in ((one, -1), (two, one), (-1, two)):
        assert did(f"UPDATE {source.table} SET number = %s WHERE number = %s", [new, old]) == 1


@attack
def hide_a_row_from_the_sealer(world: World, rng: random.Random) -> None:
    """A genuine row that waits is given a number that was sealed over, with a stolen MAC key."""
    ((waiting,),) = rows("SELECT max(number) FROM checklists_entry")
    did("UPDATE checklists_entry SET number = -7 WHERE number = %s", [waiting])
    restamp(ENTRY, -7, mac_key=keys.mac_key())
