#!/bin/sh
# Writes down the database that Lotwright makes at a commit, with the demonstration in it. README.md says how and why.
#   test/data/schemas/keep.sh <commit> <name> [<file that the commit lacks>...]
# PGHOST, PGPORT, PGUSER and PGPASSWORD name a server whose user may make databases and roles. KEEP_MODULES names a
# node_modules to use instead of what `npm ci` would fetch.
set -eu
commit=$1
name=$2
shift 2
cd "$(dirname "$0")"
kept=$PWD
work=$(mktemp -d)
database=lotwright_kept_$$
trap 'dropdb --if-exists --force "$database"; rm -rf "$work"' EXIT

(cd "$(git rev-parse --show-toplevel)" && git archive "$commit") | tar -x -C "$work"
createdb --template=template0 --encoding=UTF8 --locale=C.UTF-8 "$database"
cd "$work"
for lacking in "$@"; do : >"$lacking"; done
if [ -n "${KEEP_MODULES:-}" ]; then ln -s "$KEEP_MODULES" node_modules; else npm ci --silent; fi
npm run -s build

# its own start brings the schema up to date, loads the demonstration and plans its week; once it serves and the plan is
# printed, all of it is done
DATABASE_URL="postgres://$PGUSER:${PGPASSWORD:-none}@$PGHOST:${PGPORT:-5432}/$database" \
  LOTWRIGHT_HOME="$work/home" LOTWRIGHT_TODAY=2026-03-02 PORT=0 node dist/src/main.js >start.log 2>&1 &
server=$!
until grep -q 'serves on' start.log && grep -q "^Week's plan" start.log; do
  kill -0 "$server" 2>/dev/null || { cat start.log >&2; exit 1; }
  sleep 1
done
kill -INT "$server"
wait "$server"

# without what only psql understands, and without the name of whoever owned it there
pg_dump --no-owner --rows-per-insert=500 "$database" |
  sed -e '/^\\/d' -e 's/FOR ROLE [a-z_]* /FOR ROLE CURRENT_USER /' |
  gzip -9n >"$kept/$name.sql.gz"
ls -l "$kept/$name.sql.gz"
