-- Bulk data named by content: outlines, soundings, forecasts, tracks, photos. Rows are only ever added.
CREATE TABLE blob (
  hash BLOB PRIMARY KEY NOT NULL CHECK (length(hash) = 32),  -- SHA-256 of data; never NULL
  data BLOB NOT NULL                                         -- the bytes; never NULL, may be empty
) STRICT;
