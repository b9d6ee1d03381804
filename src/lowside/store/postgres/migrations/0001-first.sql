-- One database holds many shops. A role that servers log in with belongs to one shop, and row-level
-- security shows it that shop's rows only: no name that a server sends can choose another shop.
-- Text is compared byte by byte, as everywhere in Lowside.

DO $$ BEGIN
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'lowside_server') THEN
    CREATE ROLE lowside_server NOLOGIN;
  END IF;
END $$;

CREATE TABLE shops (
  shop text COLLATE "C" PRIMARY KEY,
  epoch text COLLATE "C" NOT NULL DEFAULT left(replace(gen_random_uuid()::text, '-', ''), 16),
  -- The number and the chain of the last arrival. Whoever stores entries holds this row until its
  -- commit, so arrivals are numbered in the order in which they can be seen.
  arrived bigint NOT NULL DEFAULT 0,
  chain text COLLATE "C" NOT NULL DEFAULT '0',
  rules text COLLATE "C" NOT NULL DEFAULT ''
);
CREATE TABLE members (role name PRIMARY KEY, shop text COLLATE "C" NOT NULL REFERENCES shops);

CREATE FUNCTION own_shop() RETURNS text LANGUAGE sql STABLE SECURITY DEFINER
  SET search_path = public, pg_temp
  AS $$ SELECT shop FROM public.members WHERE role = session_user $$;

-- The record. `body` is the entry's canonical JSON, `sum` the checksum of a log's line.
CREATE TABLE events (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  sid text COLLATE "C" NOT NULL, dev text COLLATE "C" NOT NULL, seq bigint NOT NULL,
  place bigint NOT NULL, -- in its session, from 1, in order of arrival
  body text COLLATE "C" NOT NULL, sum text COLLATE "C" NOT NULL,
  PRIMARY KEY (shop, sid, dev, seq),
  UNIQUE (shop, sid, place)
) PARTITION BY HASH (sid);
DO $$ BEGIN
  FOR n IN 0..7 LOOP
    EXECUTE format('CREATE TABLE events_%s PARTITION OF events '
      'FOR VALUES WITH (MODULUS 8, REMAINDER %s)', n, n);
  END LOOP;
END $$;
CREATE TABLE set_aside (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  sid text COLLATE "C" NOT NULL, digest text COLLATE "C" NOT NULL,
  n bigint GENERATED ALWAYS AS IDENTITY,
  body text COLLATE "C" NOT NULL, sum text COLLATE "C" NOT NULL,
  PRIMARY KEY (shop, sid, digest)
);
CREATE TABLE arrivals (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  n bigint NOT NULL,
  sid text COLLATE "C" NOT NULL, dev text COLLATE "C" NOT NULL, seq bigint NOT NULL,
  chain text COLLATE "C" NOT NULL,
  PRIMARY KEY (shop, n)
);

-- Derived from the record: `lowside check-store --rebuild` makes all of it again.
CREATE TABLE sessions (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  sid text COLLATE "C" NOT NULL,
  damaged bigint NOT NULL, events bigint NOT NULL, last_hlc text COLLATE "C" NOT NULL,
  begun bigint NOT NULL, words text COLLATE "C" NOT NULL,
  cylinder_key text COLLATE "C" NOT NULL, unit_key text COLLATE "C" NOT NULL,
  site text COLLATE "C" NOT NULL, unit_label text COLLATE "C" NOT NULL,
  technician text COLLATE "C" NOT NULL, refrigerant text COLLATE "C" NOT NULL,
  cylinder text COLLATE "C" NOT NULL, started bigint, closed bigint,
  added_kg double precision NOT NULL, practice boolean NOT NULL, session boolean NOT NULL,
  PRIMARY KEY (shop, sid)
);
CREATE INDEX by_begun ON sessions (shop, begun DESC, sid DESC);
CREATE INDEX by_cylinder ON sessions (shop, cylinder_key, begun DESC, sid DESC);
CREATE INDEX by_unit ON sessions (shop, unit_key, begun DESC, sid DESC);
CREATE INDEX by_added ON sessions (shop, added_kg DESC, begun DESC, sid DESC);
CREATE INDEX open_by_begun ON sessions (shop, begun DESC, sid DESC) WHERE closed IS NULL;
CREATE INDEX by_last_hlc ON sessions (shop, last_hlc);
CREATE TABLE derived (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  kind text COLLATE "C" NOT NULL, key text COLLATE "C" NOT NULL, begun bigint NOT NULL,
  sid text COLLATE "C" NOT NULL, place bigint NOT NULL, value text COLLATE "C" NOT NULL,
  PRIMARY KEY (shop, kind, key, begun, sid, place)
);
CREATE INDEX derived_of_session ON derived (shop, sid);
CREATE TABLE aside (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  sid text COLLATE "C" NOT NULL, n bigint NOT NULL,
  PRIMARY KEY (shop, sid)
);
CREATE TABLE units (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  unit_key text COLLATE "C" NOT NULL, site text COLLATE "C" NOT NULL,
  unit_label text COLLATE "C" NOT NULL, sessions bigint NOT NULL, adding bigint NOT NULL,
  added_kg double precision NOT NULL, last bigint NOT NULL,
  PRIMARY KEY (shop, unit_key)
);
CREATE INDEX topped_up_again ON units (shop, unit_key) WHERE adding > 1;
CREATE TABLE marks (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  kind text COLLATE "C" NOT NULL, key text COLLATE "C" NOT NULL, n bigint NOT NULL,
  PRIMARY KEY (shop, kind, key)
);
CREATE FUNCTION count_mark() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp
AS $$ BEGIN
  IF tg_op = 'INSERT' THEN
    INSERT INTO public.marks (shop, kind, key, n) VALUES (new.shop, new.kind, new.key, 1)
      ON CONFLICT (shop, kind, key) DO UPDATE SET n = public.marks.n + 1;
  ELSE
    UPDATE public.marks SET n = n - 1
      WHERE shop = old.shop AND kind = old.kind AND key = old.key;
  END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER mark_put AFTER INSERT ON derived FOR EACH ROW WHEN (new.value = '')
  EXECUTE FUNCTION count_mark();
CREATE TRIGGER mark_gone AFTER DELETE ON derived FOR EACH ROW WHEN (old.value = '')
  EXECUTE FUNCTION count_mark();

-- What the servers of a shop share beside entries: people and pairings as a log that only grows,
-- procedures and keys as papers that never change, wrong codes as tries that are forgotten.
CREATE TABLE happenings (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  log text COLLATE "C" NOT NULL, n bigint NOT NULL, line text COLLATE "C" NOT NULL,
  PRIMARY KEY (shop, log, n)
);
CREATE TABLE papers (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  name text COLLATE "C" NOT NULL, content bytea NOT NULL,
  PRIMARY KEY (shop, name)
);
CREATE TABLE tries (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  n bigint GENERATED ALWAYS AS IDENTITY, at bigint NOT NULL, peer text COLLATE "C" NOT NULL,
  PRIMARY KEY (shop, n)
);

DO $$ DECLARE name text; BEGIN
  FOREACH name IN ARRAY ARRAY['shops', 'events', 'set_aside', 'arrivals', 'sessions', 'derived',
      'aside', 'units', 'marks', 'happenings', 'papers', 'tries'] LOOP
    EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', name);
    EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', name);
    EXECUTE format('CREATE POLICY own ON %I TO lowside_server USING (shop = (SELECT own_shop())) '
      'WITH CHECK (shop = (SELECT own_shop()))', name);
  END LOOP;
END $$;

REVOKE ALL ON FUNCTION own_shop() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION own_shop() TO lowside_server;
GRANT SELECT, UPDATE (arrived, chain, rules) ON shops TO lowside_server;
-- No UPDATE and no DELETE: what is recorded stays as it is. No right at all to the partitions.
GRANT SELECT, INSERT ON events, set_aside, arrivals, happenings, papers TO lowside_server;
GRANT SELECT, INSERT, UPDATE, DELETE ON sessions, derived, aside, units, marks, tries
  TO lowside_server;
