/* The tables of a book, version 1. How they are used is said beside each; the
 * page for people is docs/book.md. Rows of study, revision, specimen and source
 * never change once written; of a rig and a reading only the columns that say
 * when it was replaced. */
#include "book/db.h"

const char *const pl_book_tables =
    "CREATE TABLE study ("
    "  study INTEGER PRIMARY KEY,"
    "  name TEXT NOT NULL UNIQUE CHECK (name <> '')"
    ") STRICT;"

    /* A frozen plan with the study file it was made from, byte for byte. digest:
     * SHA-256 of both, looked at on every reading. */
    "CREATE TABLE revision ("
    "  revision INTEGER PRIMARY KEY,"
    "  study INTEGER NOT NULL REFERENCES study,"
    "  number INTEGER NOT NULL CHECK (number >= 1),"
    "  seed INTEGER NOT NULL CHECK (seed >= 0 AND seed < 9007199254740992),"
    "  text TEXT NOT NULL,"
    "  plan TEXT NOT NULL,"
    "  program TEXT NOT NULL,"
    "  made_at INTEGER NOT NULL,"
    "  digest TEXT NOT NULL CHECK (length(digest) = 64),"
    "  UNIQUE (study, number)"
    ") STRICT;"

    /* Every id ever issued: the key is what keeps one from being issued twice. */
    "CREATE TABLE specimen ("
    "  id TEXT PRIMARY KEY CHECK (id <> ''),"
    "  revision INTEGER NOT NULL REFERENCES revision"
    ") STRICT, WITHOUT ROWID;"
    "CREATE INDEX specimen_of ON specimen (revision);"

    "CREATE TABLE rig ("
    "  rig INTEGER PRIMARY KEY,"
    "  name TEXT NOT NULL CHECK (name <> ''),"
    "  text TEXT NOT NULL,"
    "  added_at INTEGER NOT NULL,"
    "  replaced_at INTEGER"
    ") STRICT;"
    "CREATE UNIQUE INDEX rig_in_use ON rig (name) WHERE replaced_at IS NULL;"

    /* A file that readings came from, read for one revision. */
    "CREATE TABLE source ("
    "  source INTEGER PRIMARY KEY,"
    "  study INTEGER NOT NULL REFERENCES study,"
    "  revision INTEGER NOT NULL REFERENCES revision,"
    "  digest TEXT NOT NULL CHECK (length(digest) = 64),"
    "  name TEXT NOT NULL,"
    "  kind TEXT NOT NULL,"
    "  rig TEXT NOT NULL,"
    "  rig_text TEXT NOT NULL,"
    "  plugin TEXT NOT NULL,"
    "  program TEXT NOT NULL,"
    "  taken_at INTEGER NOT NULL,"
    "  UNIQUE (study, digest)"
    ") STRICT;"

    /* One quantity of one subject. In force while replaced_by is null; then it
     * names the file whose value took its place. */
    "CREATE TABLE reading ("
    "  reading INTEGER PRIMARY KEY,"
    "  study INTEGER NOT NULL REFERENCES study,"
    "  source INTEGER NOT NULL REFERENCES source,"
    "  subject TEXT NOT NULL CHECK (subject IN ('specimen', 'glue-up', 'session', 'board')),"
    "  id TEXT NOT NULL CHECK (id <> ''),"
    "  quantity TEXT NOT NULL CHECK (quantity <> ''),"
    "  text TEXT NOT NULL,"
    "  value REAL,"
    "  unit TEXT NOT NULL,"
    "  place TEXT NOT NULL,"
    "  replaced_by INTEGER REFERENCES source,"
    "  replaced_at INTEGER,"
    "  CHECK ((replaced_by IS NULL) = (replaced_at IS NULL))"
    ") STRICT;"
    "CREATE UNIQUE INDEX reading_in_force ON reading (study, subject, id, quantity)"
    "  WHERE replaced_by IS NULL;"
    "CREATE INDEX reading_from ON reading (source);"

    "CREATE TABLE fit ("
    "  fit INTEGER PRIMARY KEY,"
    "  study INTEGER NOT NULL REFERENCES study,"
    "  revision INTEGER NOT NULL REFERENCES revision,"
    "  program TEXT NOT NULL,"
    "  made_at INTEGER NOT NULL,"
    "  answer TEXT NOT NULL"
    ") STRICT;"
    "CREATE INDEX fit_of ON fit (study);";
