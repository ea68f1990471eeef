/* The tables of a book, version 2. How they are used is said beside each; the
 * page for people is docs/book.md. No row is ever deleted. What a row says never
 * changes once written, but for the columns that say since when it no longer
 * counts (ended and what stands beside it).
 *
 * Every row has the entry of the trail that wrote it, and a seal: the SHA-256
 * of all that stands in it (seal.c). The lists of columns below are what seals,
 * exports and the upgrade of an older book go by; a test holds them to the SQL. */
#include "book/db.h"

#include <string.h>

/* entry points ahead: the trail's row is written when all it tells of is. */
#define ENTRY "  entry INTEGER NOT NULL REFERENCES trail DEFERRABLE INITIALLY DEFERRED,"
#define ENDED "  ended INTEGER REFERENCES trail DEFERRABLE INITIALLY DEFERRED,"
#define SEAL "  seal TEXT NOT NULL CHECK (length(seal) = 64)"

const char *const pl_book_tables =
    /* What changed the book, in order. rows: the sum of the seals of all rows that
     * the entry wrote or ended; figures: of readings and marks alone; before: the seal of the entry
     * before this one. */
    "CREATE TABLE trail ("
    "  entry INTEGER PRIMARY KEY,"
    "  at INTEGER NOT NULL,"
    "  what TEXT NOT NULL CHECK (what <> ''),"
    "  study TEXT NOT NULL,"
    "  words TEXT NOT NULL,"
    "  who TEXT NOT NULL,"
    "  program TEXT NOT NULL,"
    "  rows TEXT NOT NULL CHECK (length(rows) = 64),"
    "  figures TEXT NOT NULL CHECK (length(figures) = 64),"
    "  before TEXT NOT NULL," SEAL ") STRICT;"
    "CREATE INDEX trail_of ON trail (study);"

    "CREATE TABLE study ("
    "  study INTEGER PRIMARY KEY,"
    "  name TEXT NOT NULL UNIQUE CHECK (name <> '')," ENTRY SEAL ") STRICT;"

    /* A frozen plan with the study file it was made from, byte for byte. digest:
     * SHA-256 of both. */
    "CREATE TABLE revision ("
    "  revision INTEGER PRIMARY KEY,"
    "  study INTEGER NOT NULL REFERENCES study,"
    "  number INTEGER NOT NULL CHECK (number >= 1),"
    "  seed INTEGER NOT NULL CHECK (seed >= 0 AND seed < 9007199254740992),"
    "  text TEXT NOT NULL,"
    "  plan TEXT NOT NULL,"
    "  program TEXT NOT NULL,"
    "  made_at INTEGER NOT NULL,"
    "  digest TEXT NOT NULL CHECK (length(digest) = 64)," ENTRY SEAL ", UNIQUE (study, number)"
    ") STRICT;"

    /* Every id ever issued: the key is what keeps one from being issued twice. */
    "CREATE TABLE specimen ("
    "  id TEXT PRIMARY KEY CHECK (id <> ''),"
    "  revision INTEGER NOT NULL REFERENCES revision," ENTRY SEAL ") STRICT, WITHOUT ROWID;"
    "CREATE INDEX specimen_of ON specimen (revision);"

    "CREATE TABLE rig ("
    "  rig INTEGER PRIMARY KEY,"
    "  name TEXT NOT NULL CHECK (name <> ''),"
    "  text TEXT NOT NULL,"
    "  added_at INTEGER NOT NULL," ENTRY "  ended_at INTEGER," ENDED SEAL
    ", CHECK ((ended IS NULL) = (ended_at IS NULL))"
    ") STRICT;"
    "CREATE UNIQUE INDEX rig_in_use ON rig (name) WHERE ended IS NULL;"

    /* A file that readings came from, read for one revision. Ended: withdrawn. */
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
    "  taken_at INTEGER NOT NULL," ENTRY "  reason TEXT," ENDED SEAL
    ", CHECK ((ended IS NULL) = (reason IS NULL))"
    ") STRICT;"
    "CREATE UNIQUE INDEX source_in_force ON source (study, digest) WHERE ended IS NULL;"

    /* One quantity of one subject. In force while ended is null. Then replaced_by names
     * the file whose value took its place; null when its own file was withdrawn. */
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
    "  place TEXT NOT NULL," ENTRY "  replaced_by INTEGER REFERENCES source,"
    "  ended_at INTEGER," ENDED SEAL ", CHECK ((ended IS NULL) = (ended_at IS NULL)),"
    "  CHECK (replaced_by IS NULL OR ended IS NOT NULL)"
    ") STRICT;"
    "CREATE UNIQUE INDEX reading_in_force ON reading (study, subject, id, quantity)"
    "  WHERE ended IS NULL;"
    "CREATE INDEX reading_from ON reading (source);"

    /* What happened to a specimen, beside what was planned. key: of made-as, the
     * factor or "board" ...; value: what was made, the other specimen, the note, the
     * photo's digest. */
    "CREATE TABLE mark ("
    "  mark INTEGER PRIMARY KEY,"
    "  study INTEGER NOT NULL REFERENCES study,"
    "  specimen TEXT NOT NULL REFERENCES specimen,"
    "  kind TEXT NOT NULL CHECK (kind IN ('lost', 'excluded', 'restored', 'swapped-with',"
    "    'made-as', 'applied', 'note', 'photo')),"
    "  key TEXT NOT NULL,"
    "  value TEXT NOT NULL,"
    "  reason TEXT NOT NULL,"
    "  happened_at INTEGER NOT NULL,"
    "  made_at INTEGER NOT NULL," ENTRY SEAL ") STRICT;"
    "CREATE INDEX mark_of ON mark (study);"

    /* A file as it was, packed with zlib. The seal is that of digest and length:
     * the digest stands for the bytes. */
    "CREATE TABLE kept ("
    "  digest TEXT PRIMARY KEY CHECK (length(digest) = 64),"
    "  length INTEGER NOT NULL CHECK (length >= 0),"
    "  packed BLOB NOT NULL," ENTRY SEAL ") STRICT, WITHOUT ROWID;"

    /* asked: the study file that the question came from; null: the frozen one. seen:
     * the last entry of the trail when the fit was made. */
    "CREATE TABLE fit ("
    "  fit INTEGER PRIMARY KEY,"
    "  study INTEGER NOT NULL REFERENCES study,"
    "  revision INTEGER NOT NULL REFERENCES revision,"
    "  program TEXT NOT NULL,"
    "  made_at INTEGER NOT NULL,"
    "  answer TEXT NOT NULL,"
    "  asked TEXT,"
    "  seen INTEGER NOT NULL," ENTRY SEAL ") STRICT;"
    "CREATE INDEX fit_of ON fit (study);";

/* In the order in which rows point at each other. The first column is the key; nsealed
 * columns follow that the seal is of, the last nending of them set when the row ends. */
const pl_table_of pl_book_all[] = {
    { "trail",
      { "entry", "at", "what", "study", "words", "who", "program", "rows", "figures", "before" },
      9,
      0 },
    { "study", { "study", "name", "entry" }, 2, 0 },
    { "revision",
      { "revision", "study", "number", "seed", "text", "plan", "program", "made_at", "digest",
        "entry" },
      9,
      0 },
    { "specimen", { "id", "revision", "entry" }, 2, 0 },
    { "rig", { "rig", "name", "text", "added_at", "entry", "ended_at", "ended" }, 6, 2 },
    { "source",
      { "source", "study", "revision", "digest", "name", "kind", "rig", "rig_text", "plugin",
        "program", "taken_at", "entry", "reason", "ended" },
      13,
      2 },
    { "reading",
      { "reading", "study", "source", "subject", "id", "quantity", "text", "value", "unit", "place",
        "entry", "replaced_by", "ended_at", "ended" },
      13,
      3 },
    { "mark",
      { "mark", "study", "specimen", "kind", "key", "value", "reason", "happened_at", "made_at",
        "entry" },
      9,
      0 },
    { "kept", { "digest", "length", "entry", "packed" }, 2, 0 },
    { "fit",
      { "fit", "study", "revision", "program", "made_at", "answer", "asked", "seen", "entry" },
      8,
      0 },
};
const size_t pl_book_nall = sizeof pl_book_all / sizeof *pl_book_all;

const pl_table_of *pl_table_named(const char *name)
{
    for (size_t i = 0; i < pl_book_nall; i++)
        if (!strcmp(pl_book_all[i].name, name))
            return &pl_book_all[i];
    return NULL;
}
