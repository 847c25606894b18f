-- The tables of records of version 1, as they were before verdicts were kept, with one night, one chip and one flake of our own invention.
CREATE TABLE run (
  seq INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,
  title TEXT NOT NULL,
  created_at_ms REAL NOT NULL,
  run_sheet TEXT NOT NULL,
  instrument TEXT NOT NULL,
  plan TEXT NOT NULL,
  state TEXT NOT NULL
) STRICT;

CREATE TABLE transition (
  seq INTEGER PRIMARY KEY,
  run_id TEXT NOT NULL REFERENCES run(id),
  at_ms REAL NOT NULL,
  state TEXT NOT NULL,
  cause TEXT NOT NULL
) STRICT;
CREATE INDEX transition_of_run ON transition(run_id, seq);

CREATE TABLE chip (
  run_id TEXT NOT NULL REFERENCES run(id),
  chip TEXT NOT NULL,
  optical_path TEXT NOT NULL,
  dark TEXT NOT NULL,
  ladder TEXT NOT NULL,
  focus_points TEXT NOT NULL,
  flat TEXT,
  PRIMARY KEY (run_id, chip)
) STRICT;

CREATE TABLE tile (
  run_id TEXT NOT NULL REFERENCES run(id),
  tile INTEGER NOT NULL,
  chip TEXT NOT NULL,
  outcome TEXT NOT NULL,
  reason TEXT,
  fault TEXT,
  x_um REAL NOT NULL,
  y_um REAL NOT NULL,
  z_um REAL NOT NULL,
  taken_at_ms REAL NOT NULL,
  sharpness REAL,
  substrate TEXT NOT NULL,
  picture_file TEXT REFERENCES file(path),
  detections TEXT NOT NULL,
  PRIMARY KEY (run_id, tile)
) STRICT;

CREATE TABLE flake (
  run_id TEXT NOT NULL REFERENCES run(id),
  id TEXT NOT NULL,
  chip TEXT NOT NULL,
  verdict TEXT NOT NULL,
  layers INTEGER,
  usable_um REAL,
  area_um2 REAL,
  rank REAL,
  flake TEXT NOT NULL,
  PRIMARY KEY (run_id, id)
) STRICT;

CREATE TABLE crop (
  run_id TEXT NOT NULL,
  flake_id TEXT NOT NULL,
  tile INTEGER NOT NULL,
  file TEXT NOT NULL REFERENCES file(path),
  width_px INTEGER NOT NULL,
  height_px INTEGER NOT NULL,
  x_um REAL NOT NULL,
  y_um REAL NOT NULL,
  camera_to_stage_um TEXT NOT NULL,
  PRIMARY KEY (run_id, flake_id),
  FOREIGN KEY (run_id, flake_id) REFERENCES flake(run_id, id)
) STRICT;

CREATE TABLE file (
  path TEXT PRIMARY KEY,
  run_id TEXT NOT NULL REFERENCES run(id),
  bytes INTEGER NOT NULL,
  sha256 TEXT NOT NULL
) STRICT;
CREATE INDEX file_of_run ON file(run_id);

CREATE TABLE event (
  seq INTEGER PRIMARY KEY,
  run_id TEXT NOT NULL REFERENCES run(id),
  at_ms REAL NOT NULL,
  kind TEXT NOT NULL,
  text TEXT NOT NULL
) STRICT;
CREATE INDEX event_of_run ON event(run_id, seq);
INSERT INTO run VALUES (1, 'night-1', 'Two chips', 1790000000000, 'title: Two chips', 'instrument: Bench two', '{"chips":[],"tileCount":0,"forecastS":1,"diskBytes":1,"fieldWidthUm":844,"fieldHeightUm":706}', 'finished');
INSERT INTO transition VALUES (1, 'night-1', 1790000000000, 'preflight', 'begun');
INSERT INTO chip VALUES ('night-1', 'K-07', 'survey', '[0.004,0.005,0.004]', '[[0,0,0],[0.07,0.06,0.01]]', '[]', NULL);
INSERT INTO flake VALUES ('night-1', 'F-1', 'K-07', 'rejected', NULL, 0, 3, 0, '{"id":"F-1","chip":"K-07","bestTile":1,"tiles":[1],"centreUm":{"xUm":1,"yUm":2},"terraces":[],"verdict":"rejected","reject":"softEdge","layers":null,"usableUm":0,"areaUm2":3,"rank":0}');
PRAGMA user_version = 1;
