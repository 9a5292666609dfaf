-- The two roles of the database, made once in each cluster; run in template1 so that every later database has the grants.
-- clinic_owner owns the tables and runs migrations. clinic_app is what web, worker and scheduler sign in as: it may read and
-- write rows, and on append-only tables less still (their migrations take UPDATE and DELETE away). Neither may do anything
-- outside its database, but that the owner may be let make another, in which a backup is proven. Passwords are set by whoever
-- runs this.
CREATE ROLE clinic_owner LOGIN;
CREATE ROLE clinic_app LOGIN;
ALTER DEFAULT PRIVILEGES FOR ROLE clinic_owner GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO clinic_app;
ALTER DEFAULT PRIVILEGES FOR ROLE clinic_owner GRANT USAGE, SELECT ON SEQUENCES TO clinic_app;
