-- The accounts of the database, made once by its administrator, as whom nothing of the service signs in. The container
-- runs it at its first start; elsewhere: SECRETS=/etc/commonwear psql --username postgres --file accounts.sql
-- Each password is the one in the address that whoever signs in is given as a file.
\set ON_ERROR_STOP on
\set owner `sed -n 's|.*//[^:]*:\([^@]*\)@.*|\1|p' "${SECRETS:-/run/secrets}/owner_url"`
\set service `sed -n 's|.*//[^:]*:\([^@]*\)@.*|\1|p' "${SECRETS:-/run/secrets}/service_url"`
\set backup `sed -n 's|.*//[^:]*:\([^@]*\)@.*|\1|p' "${SECRETS:-/run/secrets}/backup_url"`

-- Owns the tables; migrates, restores, changes keys, writes tables anew.
CREATE ROLE commonwear_owner LOGIN PASSWORD :'owner';
-- Web, worker and sweep; `python -m server migrate` gives it and the next two their rights.
CREATE ROLE commonwear_service LOGIN PASSWORD :'service';
CREATE ROLE commonwear_backup LOGIN PASSWORD :'backup';
-- Figures are worked out in it, and nobody signs in as it.
CREATE ROLE commonwear_figures NOLOGIN;
GRANT commonwear_figures TO commonwear_owner, commonwear_service;

CREATE DATABASE commonwear OWNER commonwear_owner;
REVOKE ALL ON DATABASE commonwear, postgres, template1 FROM PUBLIC;
GRANT CONNECT ON DATABASE commonwear TO commonwear_service, commonwear_backup;

-- What the nightly sweep does with the write-ahead log, and how `doctor` sees transactions that others have left open.
\connect commonwear
GRANT pg_checkpoint, pg_read_all_stats TO commonwear_owner;
GRANT EXECUTE ON FUNCTION pg_switch_wal(), pg_ls_waldir() TO commonwear_owner;
