-- Who writes here: one row, made at first start and kept with the data. A restore gives it a new epoch and a new
-- journal, so that numbers given out after the backup was made are never given out a second time.
CREATE TABLE installation (
  one INTEGER PRIMARY KEY CHECK (one = 1),             -- always 1: there is one row
  outfit BLOB NOT NULL CHECK (length(outfit) = 16),    -- UUID of the outfit; never NULL
  account BLOB NOT NULL CHECK (length(account) = 16),  -- UUID of the guide of this installation; never NULL
  journal BLOB NOT NULL CHECK (length(journal) = 16),  -- UUID of the journal that is written here; never NULL
  epoch BLOB NOT NULL CHECK (length(epoch) = 16),      -- random UUID, renewed by restore; never NULL
  made INTEGER NOT NULL,                               -- when the installation was made, ms since 1970 UTC; never NULL
  sum BLOB NOT NULL CHECK (length(sum) = 32)           -- SHA-256 over the columns above, to find damage; never NULL
) STRICT;
