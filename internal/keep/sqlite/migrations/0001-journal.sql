-- The first shape of the database; schema/ explains every table and column.
PRAGMA application_id = 0x49636548; -- "IceH": this file is ours

CREATE TABLE installation (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  outfit BLOB NOT NULL CHECK (length(outfit) = 16),
  account BLOB NOT NULL CHECK (length(account) = 16),
  journal BLOB NOT NULL CHECK (length(journal) = 16),
  epoch BLOB NOT NULL CHECK (length(epoch) = 16),
  made INTEGER NOT NULL,
  sum BLOB NOT NULL CHECK (length(sum) = 32)
) STRICT;

CREATE TABLE entry (
  pos INTEGER PRIMARY KEY,
  journal BLOB NOT NULL CHECK (length(journal) = 16),
  n INTEGER NOT NULL CHECK (n > 0),
  act BLOB NOT NULL CHECK (length(act) = 16),
  prev BLOB NOT NULL CHECK (length(prev) = 32),
  hlc INTEGER NOT NULL,
  outfit BLOB NOT NULL CHECK (length(outfit) = 16),
  lake BLOB NOT NULL CHECK (length(lake) = 16),
  account BLOB NOT NULL CHECK (length(account) = 16),
  trip BLOB NOT NULL CHECK (length(trip) = 16),
  day TEXT NOT NULL,
  zone TEXT NOT NULL,
  at INTEGER NOT NULL,
  wall INTEGER NOT NULL,
  mono INTEGER NOT NULL,
  boot BLOB NOT NULL CHECK (length(boot) = 16),
  kind TEXT NOT NULL,
  version INTEGER NOT NULL,
  body BLOB NOT NULL,
  hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
CREATE UNIQUE INDEX entry_place ON entry (journal, n);
CREATE INDEX entry_act ON entry (act);

CREATE TABLE blob (
  hash BLOB PRIMARY KEY NOT NULL CHECK (length(hash) = 32),
  data BLOB NOT NULL
) STRICT;

CREATE TABLE text (
  hash BLOB PRIMARY KEY NOT NULL CHECK (length(hash) = 32),
  salt BLOB NOT NULL CHECK (length(salt) = 32),
  words TEXT NOT NULL
) STRICT;
