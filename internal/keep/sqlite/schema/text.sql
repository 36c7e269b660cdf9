-- Names and free text that a person may ask to have forgotten. The journal holds only the salted hash, so a row can be
-- deleted while every chain stays whole. The salt keeps the hash from telling the text.
CREATE TABLE text (
  hash BLOB PRIMARY KEY NOT NULL CHECK (length(hash) = 32),  -- SHA-256 of salt and words; never NULL
  salt BLOB NOT NULL CHECK (length(salt) = 32),              -- 32 random bytes; never NULL
  words TEXT NOT NULL                                        -- the text; never NULL, may be empty
) STRICT;
