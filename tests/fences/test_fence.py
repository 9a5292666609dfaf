"""Row-level security: what the database itself gives to whom, whatever the code asks."""

from __future__ import annotations

import os
from typing import Any

import psycopg
import pytest
from django.db import ProgrammingError, connection, transaction
from django.db.models import Model, Q
from psycopg import sql

from caseload.models import Episode, Person
from clinic import access, clock
from clinic.access import Scope, fence
from clinic.access.fenced import ByEpisode, ByPerson, BySite, Door, Fenced, Mine, Theirs, Via, Whole
from clinic.access.standing import EVERYBODY, NOBODY, standing_as
from clinic.staff.models import Staff
from tests.fences.world import World

pytestmark = pytest.mark.django_db
ROLES = ("therapist", "lead", "prosthetist", "assistant", "records")
MODELS = {one._meta.db_table: one for one in fence.models()}


def keys(table: str) -> set[Any]:
    """The keys of all rows that the database gives, asked without any filter."""
    with connection.cursor() as cursor:
        cursor.execute(sql.SQL("SELECT {} FROM {}").format(sql.Identifier(key_of(table)), sql.Identifier(table)))
        return {row[0] for row in cursor.fetchall()}


def key_of(table: str) -> str:
    """The column of a table's key."""
    key = MODELS[table]._meta.pk
    assert key is not None
    assert key.column is not None
    return key.column


def allowed(actor: Staff, table: str) -> set[Any]:
    """The keys of the rows that the code's own fence gives to somebody, for the actions by which the table is read."""
    model: type[Model] = MODELS[table]
    rows = model._default_manager.all()
    found: set[Any] = set()
    for door in declared(table).reads:
        found |= set(rows.filter(_where(actor, table, door)).values_list("pk", flat=True))
    return found


def declared(table: str) -> Fenced:
    return fence.fences()[table]


def _where(actor: Staff, table: str, door: Door) -> Q:
    way, actions = door
    at, nothing = clock.now(), Q(pk__in=[])
    reaches = {access.reach(actor, action, at) for action in actions}
    if isinstance(way, Mine):
        return Q(**{way.column: actor.pk})
    if Scope.ALL in reaches:
        return Q()
    if isinstance(way, Theirs):
        return Q(**{way.column: actor.pk}) if Scope.OWN in reaches else nothing
    if isinstance(way, Via):
        key = MODELS[table]._meta.get_field(way.column.removesuffix("_id"))
        parents = MODELS[way.table]._default_manager.filter(pk__in=allowed(actor, way.table))
        return Q(**{f"{key.name}__in": parents})
    if isinstance(way, Whole):
        return nothing
    model: Any = {ByEpisode: Episode, ByPerson: Person, BySite: MODELS[table]}[type(way)]
    seen = nothing
    for action in actions:
        rows = access.scoped(actor, action, model.objects.all(), at=at)
        column = way.column if isinstance(way, ByEpisode) else "id"
        seen |= Q(**{f"{column}__in": rows.values("pk")})
    return seen


def test_every_table_is_fenced_or_named_as_open() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT relname, relrowsecurity FROM pg_class WHERE relkind IN ('r', 'p') AND relnamespace = "
            "'public'::regnamespace"
        )
        found = dict(cursor.fetchall())
    assert {table for table, is_fenced in found.items() if is_fenced} == set(fence.fences())
    assert {table for table, is_fenced in found.items() if not is_fenced} == set(fence.OPEN)


def test_whatever_leads_to_a_person_is_fenced() -> None:
    about = {"caseload_person", "caseload_episode"}
    while True:
        more = {
            model._meta.db_table
            for model in MODELS.values()
            for one in model._meta.get_fields()
            if one.concrete and one.is_relation and one.related_model and one.related_model._meta.db_table in about
        } - about
        if not more:
            break
        about |= more
    assert about - set(fence.fences()) == set()
    assert len(about) > 20


def test_the_programme_is_held_back_and_owns_nothing() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT rolname, rolsuper, rolbypassrls, rolcreaterole, rolreplication FROM pg_roles "
            "WHERE rolname = current_user"
        )
        assert cursor.fetchone() == ("clinic_app", False, False, False, False)
        cursor.execute("SELECT count(*) FROM pg_class WHERE pg_get_userbyid(relowner) = current_user")
        assert cursor.fetchone() == (0,)
        cursor.execute("SELECT count(*) FROM pg_proc WHERE pg_get_userbyid(proowner) = current_user")
        assert cursor.fetchone() == (0,)
        cursor.execute(
            "SELECT count(*) FROM pg_auth_members WHERE member = (SELECT oid FROM pg_roles WHERE rolname = "
            "current_user)"
        )
        assert cursor.fetchone() == (0,)


def test_the_database_holds_what_the_table_of_the_code_gives(owner: psycopg.Connection, monkeypatch: Any) -> None:
    held = _policies(owner)
    assert fence.stands(connection)
    assert len(held) == 4 * len(fence.fences())
    for statement in fence.statements():
        if statement.startswith("CREATE POLICY"):
            name, table = statement.split()[2], statement.split()[4]
            owner.execute(f"DROP POLICY {name} ON {table}")
        owner.execute(statement)
    assert _policies(owner) == held
    owner.rollback()
    monkeypatch.delitem(fence.OPEN, "clinic_beat", raising=False)
    monkeypatch.setattr(fence, "RECORDING", ())
    assert not fence.stands(connection), "a fence that is not this one's is not told from it"


def _policies(owner: psycopg.Connection) -> set[tuple[Any, ...]]:
    said = "SELECT tablename, policyname, cmd, roles::text, qual, with_check FROM pg_policies"
    return set(owner.execute(said).fetchall())


def test_nobody_sees_nothing(world: World) -> None:
    for standing in (NOBODY, None):
        with standing_as(standing or NOBODY):
            seen = {table: keys(table) for table in fence.fences()}
        assert {table for table, rows in seen.items() if rows} == set()
    with standing_as(EVERYBODY):
        empty = {table for table in fence.fences() if not keys(table)}
    assert empty <= {
        *("checklists_archive", "checklists_archivefile", "checklists_erasure", "checklists_erasuredecision"),
        *("checklists_erased", "checklists_signedevidence", "checklists_signature", "clinic_outboxrow"),
    }


@pytest.mark.parametrize("role", ROLES)
def test_each_sees_exactly_what_the_code_gives(world: World, role: str) -> None:
    actor = world.staff[role]
    expected = {table: allowed(actor, table) for table in fence.fences()}
    with standing_as(actor):
        seen = {table: keys(table) for table in fence.fences()}
    assert {table: seen[table] ^ expected[table] for table in seen if seen[table] != expected[table]} == {}


def test_a_therapist_sees_their_own_and_no_others(world: World) -> None:
    with standing_as(world.therapist):
        seen = keys("caseload_episode")
    assert seen == {world.episodes[one].pk for one in world.in_reach("therapist")}


def test_who_has_left_or_holds_no_role_sees_nothing(world: World) -> None:
    gone = world.lead
    gone.is_active = False
    gone.save()
    world.therapist.role_terms.update(period=("2020-01-01", "2020-02-01"))
    for actor in (gone, world.therapist):
        with standing_as(actor):
            assert {table for table in fence.fences() if keys(table)} <= {
                "checklists_notice",
                "caseload_emergencyaccess",
            }


@pytest.mark.parametrize("role", ["therapist", "assistant"])
def test_nothing_beyond_reach_is_changed_or_added(world: World, role: str) -> None:
    """A row that is there is written once more, as it stands: each is refused before its key is found to be taken."""
    actor, far = world.staff[role], world.episodes["other_site"]
    tried = 0
    for table, rows in _rows_about(far).items():
        names = sorted(rows[0]) if rows else []
        for row in rows:
            insert = sql.SQL("INSERT INTO {} ({}) OVERRIDING SYSTEM VALUE VALUES ({})").format(
                sql.Identifier(table),
                sql.SQL(", ").join(map(sql.Identifier, names)),
                sql.SQL(", ").join(sql.Placeholder(name) for name in names),
            )
            key = key_of(table)
            change = sql.SQL("UPDATE {0} SET {1} = {1} WHERE {2} = {3}").format(
                sql.Identifier(table), sql.Identifier(names[0]), sql.Identifier(key), sql.Placeholder("key")
            )
            with standing_as(actor):
                assert _refused(insert, row) in ("policy", "taken"), table
                assert _refused(change, {"key": row[key]}) in ("nothing", "right"), table
                if table not in TWICE:
                    assert _refused(insert, row) == "policy", table
            tried += 1
    assert tried > 15


# Added by anybody, or beside a row that is fenced itself: there the key is what is taken.
TWICE = {"checklists_entrycontent", "checklists_sealedmark", "clinic_trailrow", "clinic_outboxrow"}


def _rows_about(episode: Episode) -> dict[str, list[dict[str, Any]]]:
    """The rows of every fenced table that are about one person, as they stand."""
    found: dict[str, list[dict[str, Any]]] = {}
    roots = {"caseload_episode": {episode.pk}, "caseload_person": {episode.person_id}}
    for table in fence.fences():
        model = MODELS[table]
        for one in model._meta.get_fields():
            target = getattr(one, "related_model", None)
            if table in roots:
                rows = model._default_manager.filter(pk__in=roots[table])
            elif one.concrete and target is not None and target._meta.db_table in roots:
                rows = model._default_manager.filter(**{f"{one.name}__in": roots[target._meta.db_table]})
            else:
                continue
            columns = [each for each in model._meta.concrete_fields if not each.generated]
            found[table] = [{str(each.column): _raw(row, each) for each in columns} for row in rows]
            break
    return found


def _raw(row: Model, field: Any) -> Any:
    return field.get_db_prep_save(getattr(row, field.attname), connection)


def _refused(statement: sql.Composable, values: dict[str, Any]) -> str:
    """How a statement failed: by policy, for want of a right, because a key is taken, or because it found no row."""
    from django.db import IntegrityError

    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement, values)
            return "" if cursor.rowcount else "nothing"
    except ProgrammingError as fault:
        return "policy" if "row-level security" in str(fault) else "right" if "denied" in str(fault) else str(fault)
    except IntegrityError as fault:
        return "taken" if "duplicate" in str(fault) else str(fault)


def test_the_owners_backup_holds_every_row_and_the_programmes_none(world: World) -> None:
    """pg_dump sets row_security off: for the owner, who is not held back, nothing changes; the programme is told no."""
    name = str(connection.settings_dict["NAME"])
    for variable, holds in (("TEST_OWNER_URL", True), ("DATABASE_URL", False)):
        with psycopg.connect(os.environ[variable], dbname=name, autocommit=True) as other:
            other.execute("SET row_security = off")
            try:
                other.execute("SELECT count(*) FROM caseload_person").fetchone()
                assert holds
            except psycopg.errors.InsufficientPrivilege:
                assert not holds
