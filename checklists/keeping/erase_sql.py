"""The one way by which content of the record goes: a function of the database's owner, and the triggers that let it by.

The programme's role may not delete or rewrite a fact. It may call `erase_person`, which looks for itself whether two
people decided it and accounted for it, and touches nothing but the rows of that one person in the tables named here.
What stays is what the proof needs: the entries' ids, kinds, instants, authors and salted commitments, and the trail.
"""

from __future__ import annotations

# Table → what becomes of its rows. `whose` is the person, `theirs` their episodes, `facts` the ids of their entries.
# In this order: what refers to others goes first.
STEPS: tuple[tuple[str, str], ...] = (
    ("checklists_signature", "DELETE FROM {} WHERE entry_id = ANY (facts)"),
    ("checklists_signedevidence", "DELETE FROM {} WHERE entry_id = ANY (facts)"),
    ("checklists_entrycontent", "DELETE FROM {} WHERE entry_id = ANY (facts)"),
    (
        "checklists_alertstep",
        "DELETE FROM {} s USING public.checklists_alert a WHERE a.id = s.alert_id AND a.episode_id = ANY (theirs)",
    ),
    ("checklists_alert", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("checklists_deadline", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("checklists_notice", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("checklists_heldentry", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("checklists_refusedentry", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("checklists_sealedmark", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("checklists_difference", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("checklists_head", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    (
        "checklists_archivefile",
        "DELETE FROM {} f USING public.checklists_archive a WHERE a.id = f.archive_id AND a.person_id = whose",
    ),
    ("checklists_archive", "UPDATE {} SET why = '' WHERE person_id = whose"),
    ("checklists_legalhold", "UPDATE {} SET reason = '', lift_reason = '' WHERE person_id = whose"),
    (
        "caseload_reminder",
        "DELETE FROM {} r USING public.caseload_plannedreview p WHERE p.id = r.review_id"
        " AND p.episode_id = ANY (theirs)",
    ),
    ("caseload_plannedreview", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("caseload_visit", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("caseload_adjustmentrequest", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    (
        "caseload_component",
        "DELETE FROM {} c USING public.caseload_prosthesis p WHERE p.id = c.prosthesis_id"
        " AND p.episode_id = ANY (theirs)",
    ),
    ("caseload_prosthesis", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("caseload_pause", "DELETE FROM {} WHERE episode_id = ANY (theirs)"),
    ("caseload_assignment", "UPDATE {} SET reason = '' WHERE episode_id = ANY (theirs)"),
    ("caseload_cover", "UPDATE {} SET reason = '' WHERE episode_id = ANY (theirs)"),
    ("caseload_emergencyaccess", "UPDATE {} SET reason = 'erased', judged_text = '' WHERE episode_id = ANY (theirs)"),
    (
        "caseload_episode",
        "UPDATE {} SET side = '', features = '{{}}', knee_said = NULL, referral_id = NULL WHERE person_id = whose",
    ),
    ("caseload_referral", "DELETE FROM {} WHERE person_id = whose"),
    ("caseload_weight", "DELETE FROM {} WHERE person_id = whose"),
    ("clinic_outboxrow", "DELETE FROM {} WHERE payload->>'episode' = ANY (theirs::text[])"),
    (
        "caseload_person",
        "UPDATE {} SET second_identifier = '', given_name = '', family_name = 'erased', called = '', pronoun = '',"
        " born_on = '0001-01-01', language = 'und', phone = '', email = '', address = '', next_of_kin = '',"
        " erased_at = decided.decided_at, erased_because = asked.ground || ': ' || asked.reason,"
        " version = version + 1 WHERE id = whose",
    ),
)
# Rows about a person that stay as they are, each with the reason.
STAY = {
    "checklists_entry": "the salted commitment, ids, kinds and instants that the proof is made of",
    "clinic_trailrow": "who did and saw what, when: no content; each row is a leaf of the ledger",
    "checklists_erasure": "who asked, on which legal ground, and why",
    "checklists_erasuredecision": "who decided",
    "checklists_erased": "that it was done",
}
GUARDED = tuple(table for table, step in STEPS if step.startswith("DELETE"))

_UNDER_WAY = """
CREATE OR REPLACE FUNCTION erasure_under_way(of_table text) RETURNS boolean LANGUAGE sql STABLE
    SET search_path = pg_catalog, public, pg_temp AS $$
    SELECT of_table = ANY (ARRAY[{tables}])
        AND coalesce(current_setting('clinic.erasing', true), '') <> ''
        AND current_user = (SELECT t.tableowner FROM pg_catalog.pg_tables t
            WHERE t.schemaname = 'public' AND t.tablename = of_table)
        AND EXISTS (SELECT FROM public.checklists_erasuredecision d
            WHERE d.erasure_id::text = current_setting('clinic.erasing', true) AND d.confirmed
                AND NOT EXISTS (SELECT FROM public.checklists_erased e WHERE e.erasure_id = d.erasure_id))
$$;
"""
_TRIGGERS = """
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' AND TG_LEVEL = 'ROW' AND public.erasure_under_way(TG_TABLE_NAME) THEN
        RETURN OLD;
    END IF;
    RAISE EXCEPTION 'table % is append-only: a correction is a new row', TG_TABLE_NAME
        USING ERRCODE = 'insufficient_privilege';
END $$;
CREATE OR REPLACE FUNCTION refuse_removal() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' AND TG_LEVEL = 'ROW' AND public.erasure_under_way(TG_TABLE_NAME) THEN
        RETURN OLD;
    END IF;
    RAISE EXCEPTION 'no row of table % is ever removed', TG_TABLE_NAME USING ERRCODE = 'insufficient_privilege';
END $$;
"""
_ERASE = """
CREATE OR REPLACE FUNCTION erase_person(wanted uuid) RETURNS jsonb LANGUAGE plpgsql SECURITY DEFINER
    SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    asked public.checklists_erasure;
    decided public.checklists_erasuredecision;
    whose uuid;
    theirs uuid[];
    facts uuid[];
    counts jsonb := '{{}}';
    n bigint;
BEGIN
    SELECT * INTO asked FROM public.checklists_erasure WHERE id = wanted;
    SELECT * INTO decided FROM public.checklists_erasuredecision WHERE erasure_id = wanted;
    IF asked.id IS NULL OR decided.erasure_id IS NULL OR NOT decided.confirmed THEN
        RAISE EXCEPTION 'erasure %: nobody has confirmed it', wanted USING ERRCODE = 'insufficient_privilege';
    END IF;
    IF decided.decided_by_id = asked.asked_by_id THEN
        RAISE EXCEPTION 'erasure %: one person alone', wanted USING ERRCODE = 'insufficient_privilege';
    END IF;
    IF NOT (
        EXISTS (SELECT FROM public.clinic_trailrow WHERE subject_id = wanted::text AND verb = 'erasure.asked'
            AND actor_id = asked.asked_by_id)
        AND EXISTS (SELECT FROM public.clinic_trailrow WHERE subject_id = wanted::text AND verb = 'erasure.confirmed'
            AND actor_id = decided.decided_by_id)
        OR EXISTS (SELECT FROM public.clinic_trailrow WHERE subject_id = wanted::text AND verb = 'erasure.reapplied'))
    THEN
        RAISE EXCEPTION 'erasure %: it is not accounted for', wanted USING ERRCODE = 'insufficient_privilege';
    END IF;
    IF EXISTS (SELECT FROM public.checklists_erased WHERE erasure_id = wanted) THEN
        RAISE EXCEPTION 'erasure %: it was done already', wanted USING ERRCODE = 'insufficient_privilege';
    END IF;
    whose := asked.person_id;
    PERFORM FROM public.caseload_person WHERE id = whose FOR UPDATE;
    IF EXISTS (SELECT FROM public.checklists_legalhold WHERE person_id = whose AND lifted_at IS NULL) THEN
        RAISE EXCEPTION 'erasure %: a legal hold is in force', wanted USING ERRCODE = 'insufficient_privilege';
    END IF;
    SELECT coalesce(array_agg(id), '{{}}') INTO theirs FROM public.caseload_episode WHERE person_id = whose;
    IF EXISTS (SELECT FROM public.caseload_episode WHERE person_id = whose AND closed_at IS NULL) OR EXISTS (
        SELECT FROM public.caseload_referral
        WHERE person_id = whose AND accepted_at IS NULL AND ended_at IS NULL)
    THEN
        RAISE EXCEPTION 'erasure %: the person is in care', wanted USING ERRCODE = 'insufficient_privilege';
    END IF;
    SELECT coalesce(array_agg(id), '{{}}') INTO facts FROM public.checklists_entry WHERE episode_id = ANY (theirs);
    PERFORM set_config('clinic.erasing', wanted::text, true);
{steps}
    INSERT INTO public.checklists_erased (erasure_id, at, counts) VALUES (wanted, decided.decided_at, counts);
    PERFORM set_config('clinic.erasing', '', true);
    RETURN counts;
END $$;
REVOKE ALL ON FUNCTION erase_person(uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION erase_person(uuid) TO clinic_app;
"""
_STEP = """
    {statement};
    GET DIAGNOSTICS n = ROW_COUNT;
    counts := counts || jsonb_build_object('{table}', n);"""


def functions() -> str:
    """Everything that the owner installs: what tells an erasure from a removal, the triggers, and the function."""
    steps = "".join(
        _STEP.format(statement=step.format(f"public.{table}"), table=table.partition("_")[2]) for table, step in STEPS
    )
    tables = ", ".join(f"'{table}'" for table in GUARDED)
    return _UNDER_WAY.format(tables=tables) + _TRIGGERS + _ERASE.format(steps=steps)


BEFORE = """
DROP FUNCTION erase_person(uuid);
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'table % is append-only: a correction is a new row', TG_TABLE_NAME
        USING ERRCODE = 'insufficient_privilege';
END $$;
CREATE OR REPLACE FUNCTION refuse_removal() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'no row of table % is ever removed', TG_TABLE_NAME USING ERRCODE = 'insufficient_privilege';
END $$;
DROP FUNCTION erasure_under_way(text);
"""
"""What takes it all back."""
