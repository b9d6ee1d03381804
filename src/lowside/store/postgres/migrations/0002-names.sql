-- A list of one technician's or one refrigerant's sessions, without reading the others. Names are
-- compared as the lists compare them. An index takes no long text, so a name counts by its first
-- 200 characters; the words beside it are compared whole.

ALTER TABLE sessions
  ADD technician_name text COLLATE "C"
    GENERATED ALWAYS AS (left(lower(btrim(technician)), 200)) STORED,
  ADD refrigerant_name text COLLATE "C"
    GENERATED ALWAYS AS (left(lower(btrim(refrigerant)), 200)) STORED;
CREATE INDEX by_technician ON sessions (shop, technician_name, begun DESC, sid DESC);
CREATE INDEX by_refrigerant ON sessions (shop, refrigerant_name, begun DESC, sid DESC);
