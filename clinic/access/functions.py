"""What the policies of the database stand on: the variables of a session, and the functions that fill them.

The functions run with the owner's rights, since they read the very tables (roles, assignments, covers) that decide who
may read what; each answers one narrow question. `{…}` is filled from POLICY by clinic/access/fence.py.
"""

# actor: an id, 'everybody' or nothing. roles: of the day, a blank around each. own, emergency: ids of episodes; people
# and emergency_people: those of their persons. writing: the one episode that the write path has in hand for somebody
# whose access has ended, until the end of the transaction.
VARIABLES = (
    *("clinic.actor", "clinic.at", "clinic.roles", "clinic.site", "clinic.own", "clinic.people"),
    *("clinic.emergency", "clinic.emergency_people", "clinic.writing"),
)
TOLD = "clinic_stand"
TAKE_IN_HAND = "clinic_take_in_hand"
TAKEN = "clinic_taken"
EPISODE_OF_ALERT = "clinic_episode_of_alert"
SITE_OF = "clinic_site_of"

STAND = """
CREATE OR REPLACE FUNCTION clinic_stand(who uuid, instant timestamptz) RETURNS text
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    here uuid;
    held text[] := '{}';
    own uuid[] := '{}';
    urgent uuid[] := '{}';
BEGIN
    SELECT site_id INTO here FROM clinic_staff WHERE id = who AND is_active;
    IF FOUND THEN
        held := ARRAY(SELECT role FROM clinic_roleterm
            WHERE staff_id = who AND period @> (instant AT TIME ZONE 'UTC')::date ORDER BY role);
        IF held && {owners} THEN
            own := ARRAY(SELECT episode_id FROM caseload_assignment WHERE staff_id = who AND period @> instant
                UNION SELECT episode_id FROM caseload_cover WHERE staff_id = who AND period @> instant);
        END IF;
        urgent := ARRAY(SELECT episode_id FROM caseload_emergencyaccess WHERE staff_id = who AND period @> instant);
    END IF;
    PERFORM set_config('clinic.actor', who::text, false), set_config('clinic.at', instant::text, false),
        set_config('clinic.roles', ' ' || array_to_string(held, ' ') || ' ', false),
        set_config('clinic.site', coalesce(here::text, ''), false), set_config('clinic.own', own::text, false),
        set_config('clinic.people', ARRAY(SELECT person_id FROM caseload_episode WHERE id = ANY (own))::text, false),
        set_config('clinic.emergency', urgent::text, false),
        set_config('clinic.emergency_people',
            ARRAY(SELECT person_id FROM caseload_episode WHERE id = ANY (urgent))::text, false),
        set_config('clinic.writing', '', false);
    RETURN array_to_string(held, ' ');
END $$
"""

# Whether whoever asks could ever have recorded in an episode up to now. What they saw then may be written down late.
HAND = """
CREATE OR REPLACE FUNCTION clinic_take_in_hand(wanted uuid) RETURNS boolean
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    who text := coalesce(current_setting('clinic.actor', true), '');
    instant timestamptz := nullif(current_setting('clinic.at', true), '')::timestamptz;
    theirs boolean;
BEGIN
    IF who IN ('', 'everybody') THEN
        RETURN who <> '';
    END IF;
    theirs := EXISTS (
        SELECT FROM clinic_staff s JOIN caseload_episode e ON e.id = wanted
        WHERE s.id = who::uuid AND s.is_active AND (
            EXISTS (SELECT FROM caseload_assignment a WHERE a.episode_id = e.id AND a.staff_id = s.id
                AND NOT isempty(a.period) AND (lower_inf(a.period) OR lower(a.period) <= instant))
            OR EXISTS (SELECT FROM caseload_cover c WHERE c.episode_id = e.id AND c.staff_id = s.id
                AND NOT isempty(c.period) AND (lower_inf(c.period) OR lower(c.period) <= instant))
            OR EXISTS (SELECT FROM clinic_roleterm t WHERE t.staff_id = s.id
                AND (lower_inf(t.period) OR lower(t.period) <= (instant AT TIME ZONE 'UTC')::date)
                AND (t.role = ANY ({everywhere}) OR e.site_id = s.site_id AND t.role = ANY ({at_their_site})))));
    PERFORM set_config('clinic.writing', CASE WHEN theirs THEN wanted::text ELSE '' END, true);
    RETURN theirs;
END $$
"""

# Which of these ids stand in the record, whosever episode it is: an id is given once, and says nothing about anybody.
TAKEN_IDS = """
CREATE OR REPLACE FUNCTION clinic_taken(wanted uuid[]) RETURNS SETOF uuid
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
    SELECT e.id FROM public.checklists_entry e WHERE e.id = ANY (wanted)
$$
"""

# A step is written by the same statement as the alert to which it belongs: where there is none yet, nothing is found.
ALERTS = """
CREATE OR REPLACE FUNCTION clinic_episode_of_alert(wanted uuid) RETURNS uuid
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
    SELECT a.episode_id FROM public.checklists_alert a WHERE a.id = wanted
$$
"""
# Names are bound to their schema, so that no search path need be set at each call: it is asked for each row.
SITES = """
CREATE OR REPLACE FUNCTION clinic_site_of(wanted uuid) RETURNS uuid LANGUAGE sql STABLE SECURITY DEFINER AS $$
    SELECT e.site_id FROM public.caseload_episode e WHERE e.id OPERATOR(pg_catalog.=) wanted
$$
"""
SIGNATURES = {
    SITE_OF: "uuid",
    TOLD: "uuid, timestamptz",
    TAKE_IN_HAND: "uuid",
    TAKEN: "uuid[]",
    EPISODE_OF_ALERT: "uuid",
}
