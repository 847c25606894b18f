/** Counts up with every change of the tables. Older records are brought up to it; those of a newer one are refused, never guessed at. */
export const schemaVersion = 4;

/** What people said of a terrace's layers, and the circumstances under which that calibrates a ladder. */
const verdictSql = `
CREATE TABLE verdict (
  seq INTEGER PRIMARY KEY,
  run_id TEXT NOT NULL REFERENCES run(id),
  flake_id TEXT NOT NULL,
  chip TEXT NOT NULL,
  terrace INTEGER NOT NULL,
  x_um REAL NOT NULL,
  y_um REAL NOT NULL,
  contrast TEXT NOT NULL,
  contrast_error TEXT NOT NULL,
  predicted_layers INTEGER,
  predicted_probability REAL NOT NULL,
  layers INTEGER NOT NULL,
  source TEXT NOT NULL,
  initials TEXT NOT NULL,
  note TEXT,
  at_ms REAL NOT NULL,
  optical_path TEXT NOT NULL,
  material TEXT NOT NULL,
  substrate TEXT NOT NULL,
  oxide_nm REAL NOT NULL,
  withdrawn_at_ms REAL
) STRICT;
CREATE INDEX verdict_of_run ON verdict(run_id, seq);
CREATE INDEX verdict_in_force ON verdict(optical_path, material, substrate, oxide_nm) WHERE withdrawn_at_ms IS NULL;
`;

/** Flakes that were looked at again at high magnification. */
const closeUpSql = `
CREATE TABLE close_up (
  seq INTEGER PRIMARY KEY,
  run_id TEXT NOT NULL REFERENCES run(id),
  flake_id TEXT NOT NULL,
  chip TEXT NOT NULL,
  optical_path TEXT NOT NULL,
  outcome TEXT NOT NULL,
  reason TEXT,
  taken_at_ms REAL NOT NULL,
  took_ms REAL NOT NULL,
  x_um REAL,
  y_um REAL,
  z_um REAL,
  sharpness REAL,
  least_sharpness REAL,
  picture TEXT,
  terraces TEXT NOT NULL,
  UNIQUE (run_id, flake_id, optical_path)
) STRICT;
`;

/** Visits to the instrument's known flake, the first and the last of a night. */
const knownFlakeSql = `
CREATE TABLE known_flake (
  seq INTEGER PRIMARY KEY,
  run_id TEXT NOT NULL REFERENCES run(id),
  moment TEXT NOT NULL,
  name TEXT NOT NULL,
  light TEXT NOT NULL,
  exposure_ms REAL NOT NULL,
  taken_at_ms REAL NOT NULL,
  outcome TEXT NOT NULL,
  reason TEXT,
  offset_x_um REAL,
  offset_y_um REAL,
  contrast TEXT NOT NULL,
  contrast_error TEXT NOT NULL,
  level TEXT NOT NULL,
  z_um REAL,
  area_um2 REAL,
  sharpness REAL,
  UNIQUE (run_id, moment)
) STRICT;
`;

/** Layer numbers that people gave to a terrace for the second time without being told. */
const secondVerdictSql = `
CREATE TABLE second_verdict (
  seq INTEGER PRIMARY KEY,
  run_id TEXT NOT NULL REFERENCES run(id),
  first_seq INTEGER NOT NULL REFERENCES verdict(seq),
  layers INTEGER NOT NULL,
  source TEXT NOT NULL,
  initials TEXT NOT NULL,
  at_ms REAL NOT NULL,
  withdrawn_at_ms REAL
) STRICT;
`;

/** Statements that bring records from the version of the key to the next. */
export const migrations: ReadonlyMap<number, string> = new Map([
  [1, `ALTER TABLE chip ADD COLUMN calibration TEXT;\n${verdictSql}`],
  [2, closeUpSql],
  [3, `${knownFlakeSql}${secondVerdictSql}`],
]);

/**
 * The tables of `nightjar.sqlite`. Times are ms since 1970 on the daemon's clock, lengths um in the stage's frame. What is searched by
 * has a column of its own; what is only read back whole (outlines, probabilities) is JSON.
 */
export const schemaSql = `
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
  calibration TEXT,
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
${verdictSql}${closeUpSql}${knownFlakeSql}${secondVerdictSql}`;
