-- The accounts of the database, made by its administrator, as whom nothing of the service signs in. The container runs
-- it at its first start, and deploy/accounts on a bare machine. What is there stays: run it again after the database was
-- dropped for a restore.
-- Each password is the one in the address that whoever signs in is given as a file.
\set ON_ERROR_STOP on
\set owner `sed -n 's|.*//[^:]*:\([^@]*\)@.*|\1|p' "${SECRETS:-/run/secrets}/owner_url"`
\set service `sed -n 's|.*//[^:]*:\([^@]*\)@.*|\1|p' "${SECRETS:-/run/secrets}/service_url"`
\set backup `sed -n 's|.*//[^:]*:\([^@]*\)@.*|\1|p' "${SECRETS:-/run/secrets}/backup_url"`
-- A file that cannot be read would make accounts without a password.
SELECT '' IN (:'owner', :'service', :'backup') AS lacking \gset
\if :lacking
DO $$ BEGIN RAISE 'a password is missing: each of the three addresses has to be readable, and to hold one'; END $$;
\endif

SELECT count(*) = 0 AS without_accounts FROM pg_roles WHERE rolname = 'commonwear_owner' \gset
\if :without_accounts
-- Owns the tables; migrates, restores, changes keys, writes tables anew.
CREATE ROLE commonwear_owner LOGIN PASSWORD :'owner';
-- Web, worker and sweep; `python -m server migrate` gives it and the next two their rights.
CREATE ROLE commonwear_service LOGIN PASSWORD :'service';
CREATE ROLE commonwear_backup LOGIN PASSWORD :'backup';
-- Figures are worked out in it, and nobody signs in as it.
CREATE ROLE commonwear_figures NOLOGIN;
\endif
GRANT commonwear_figures TO commonwear_owner, commonwear_service;

SELECT count(*) = 0 AS without_database FROM pg_database WHERE datname = 'commonwear' \gset
\if :without_database
CREATE DATABASE commonwear OWNER commonwear_owner;
\endif
REVOKE ALL ON DATABASE commonwear, postgres, template1 FROM PUBLIC;
GRANT CONNECT ON DATABASE commonwear TO commonwear_service, commonwear_backup;

-- What the nightly sweep does with the write-ahead log, and how `doctor` sees transactions that others have left open.
\connect commonwear
GRANT pg_checkpoint, pg_read_all_stats TO commonwear_owner;
GRANT EXECUTE ON FUNCTION pg_switch_wal(), pg_ls_waldir() TO commonwear_owner;
