-- The journal: every entry ever written here or taken over from elsewhere, one row an entry. Rows are only ever added.
-- The columns are the fields of the entry as docs/journal-format.md defines them; hash covers all of them but pos.
-- Nothing is NULL: what does not apply is sixteen or thirty-two zero bytes, or 0.
CREATE TABLE entry (
  pos INTEGER PRIMARY KEY,                             -- the store's own order 1, 2, 3, ... without a gap; a cursor, never sent as truth
  journal BLOB NOT NULL CHECK (length(journal) = 16),  -- UUID of the journal
  n INTEGER NOT NULL CHECK (n > 0),                    -- number in that journal, 1, 2, 3, ... without a gap
  act BLOB NOT NULL CHECK (length(act) = 16),          -- UUID of the human act (field id)
  prev BLOB NOT NULL CHECK (length(prev) = 32),        -- hash of entry n-1; zero bytes for the first
  hlc INTEGER NOT NULL,                                -- hybrid clock: ms since 1970 times 65536 plus a counter
  outfit BLOB NOT NULL CHECK (length(outfit) = 16),    -- UUID
  lake BLOB NOT NULL CHECK (length(lake) = 16),        -- UUID; zero bytes: concerns no lake
  account BLOB NOT NULL CHECK (length(account) = 16),  -- UUID of who wrote it
  trip BLOB NOT NULL CHECK (length(trip) = 16),        -- UUID; zero bytes: outside a trip
  day TEXT NOT NULL,                                   -- civil date in the lake's zone, 2026-01-15
  zone TEXT NOT NULL,                                  -- IANA name of that zone
  at INTEGER NOT NULL,                                 -- when it happened, ms since 1970 UTC
  wall INTEGER NOT NULL,                               -- when it was written, by the raw wall clock, ms since 1970 UTC
  mono INTEGER NOT NULL,                               -- ms since boot by a clock that never steps; 0: unknown
  boot BLOB NOT NULL CHECK (length(boot) = 16),        -- UUID of the run of the writer that mono counts from
  kind TEXT NOT NULL,                                  -- what the entry records
  version INTEGER NOT NULL,                            -- schema version of the kind
  body BLOB NOT NULL,                                  -- one JSON object, byte for byte as written
  hash BLOB NOT NULL CHECK (length(hash) = 32)         -- SHA-256 of the entry
) STRICT;

-- Finds the head of a journal and an entry by its number; no number exists twice.
CREATE UNIQUE INDEX entry_place ON entry (journal, n);

-- Finds whether an act is held already. Not unique: two journals may hold the same act.
CREATE INDEX entry_act ON entry (act);
