-- A row for each cylinder, so that their list reads a hundred rows and not all their weighings. The
-- rows are made when the first server of the new version starts: its rules are new too.

CREATE TABLE cylinders (
  shop text COLLATE "C" NOT NULL DEFAULT own_shop(),
  key text COLLATE "C" NOT NULL, last bigint NOT NULL, refrigerant text COLLATE "C" NOT NULL,
  kind text COLLATE "C" NOT NULL, place text COLLATE "C" NOT NULL, stock_kg double precision,
  due bigint, shows text COLLATE "C" NOT NULL, value text COLLATE "C" NOT NULL,
  PRIMARY KEY (shop, key)
);
CREATE INDEX cylinders_by_last ON cylinders (shop, last DESC, key DESC);
ALTER TABLE cylinders ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own ON cylinders TO lowside_server USING (shop = (SELECT own_shop()))
  WITH CHECK (shop = (SELECT own_shop()));
GRANT SELECT, INSERT, UPDATE, DELETE ON cylinders TO lowside_server;
