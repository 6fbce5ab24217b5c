/**
 * The first store. Dates are ISO 8601 in UTC, objects are JSON.
 *
 * Samples: a chunk holds up to 65 536 consecutive samples of a run, a row of `chunk_columns` one column
 * of it. `column_name` is `#0`, `#1`, … for the raw counts of the run's channels in their order;
 * otherwise `time` (s), a quantity in its SI unit, or `bridge` (codes of the bridge's state).
 * `data` is the column as little-endian numbers: `encoding` i16, i32, f64 (NaN is a gap) or u8.
 * `envelope` summarises buckets of 256 samples: all lows, then all means, all highs, all counts of
 * samples that are no gap, each a little-endian float32 for i16 and u8, float64 otherwise.
 * `low`, `mean`, `high`, `present` summarise the whole chunk in the same numbers as `data`.
 * `marks` gives sample times and sequence numbers: records of four little-endian float64
 * (sample within the chunk, sequence number, time in s, interval in s), each good until the next; the
 * first may lie before the chunk and then has a negative sample. Empty where the samples have a time
 * column, or none because each row is a steady reading.
 */
export const FIRST_STORE = `
CREATE TABLE types (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  maker TEXT NOT NULL,
  notes TEXT NOT NULL,
  created_at TEXT NOT NULL
) STRICT;

CREATE TABLE motors (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL,
  type_id INTEGER REFERENCES types(id),
  serial_number TEXT NOT NULL,
  lot TEXT NOT NULL,
  nameplate TEXT NOT NULL,
  notes TEXT NOT NULL,
  created_at TEXT NOT NULL,
  deleted_at TEXT
) STRICT;
CREATE UNIQUE INDEX motors_by_name ON motors(name) WHERE deleted_at IS NULL;
CREATE INDEX motors_by_type ON motors(type_id);

CREATE TABLE benches (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  rig_serial_number TEXT UNIQUE,
  supply_volt REAL,
  supply_limit_amp REAL,
  declared_above_60_volt INTEGER NOT NULL CHECK (declared_above_60_volt IN (0, 1)),
  sensors TEXT NOT NULL,
  fixture TEXT,
  notes TEXT NOT NULL,
  created_at TEXT NOT NULL
) STRICT;

CREATE TABLE calibrations (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  bench_id INTEGER NOT NULL REFERENCES benches(id),
  channel TEXT NOT NULL,
  gain REAL NOT NULL,
  zero REAL NOT NULL,
  gain_uncertainty REAL NOT NULL,
  zero_uncertainty REAL NOT NULL,
  method TEXT NOT NULL,
  reference_instruments TEXT NOT NULL,
  points TEXT NOT NULL,
  author TEXT NOT NULL,
  notes TEXT NOT NULL,
  performed_at TEXT NOT NULL,
  valid_until TEXT
) STRICT;
CREATE INDEX calibrations_in_force ON calibrations(bench_id, channel, performed_at, id);

CREATE TABLE runs (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  kind TEXT NOT NULL,
  origin TEXT NOT NULL,
  bench_id INTEGER REFERENCES benches(id),
  rig TEXT,
  channels TEXT NOT NULL,
  rate_hz REAL,
  conditions TEXT NOT NULL,
  plan TEXT,
  source TEXT,
  started_at TEXT NOT NULL,
  ended_at TEXT,
  ending TEXT NOT NULL,
  ending_text TEXT NOT NULL,
  title TEXT NOT NULL,
  excluded TEXT NOT NULL,
  quantities TEXT NOT NULL,
  counters TEXT,
  sample_count INTEGER NOT NULL,
  first_sec REAL,
  last_sec REAL,
  deleted_at TEXT
) STRICT;
CREATE INDEX runs_by_motor ON runs(motor_id, id);

CREATE TABLE run_calibrations (
  run_id INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
  calibration_id INTEGER NOT NULL REFERENCES calibrations(id),
  PRIMARY KEY (run_id, calibration_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE annotations (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
  text TEXT NOT NULL,
  author TEXT NOT NULL,
  written_at TEXT NOT NULL,
  time_sec REAL
) STRICT;
CREATE INDEX annotations_of_run ON annotations(run_id);

-- Runs that are being written now, and by whom: a writer that died leaves its row behind.
CREATE TABLE open_runs (
  run_id INTEGER PRIMARY KEY REFERENCES runs(id) ON DELETE CASCADE,
  place TEXT NOT NULL,
  process_id INTEGER NOT NULL,
  process_start TEXT,
  beat_ms INTEGER NOT NULL
) STRICT;

-- Counted while a run is written: lost samples by place, rejected lines.
CREATE TABLE run_tallies (
  run_id INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
  name TEXT NOT NULL,
  count INTEGER NOT NULL,
  PRIMARY KEY (run_id, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE chunks (
  run_id INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
  first_sample INTEGER NOT NULL,
  sample_count INTEGER NOT NULL,
  start_sec REAL,
  end_sec REAL,
  marks BLOB NOT NULL,
  PRIMARY KEY (run_id, first_sample)
) STRICT, WITHOUT ROWID;

CREATE TABLE chunk_columns (
  run_id INTEGER NOT NULL,
  first_sample INTEGER NOT NULL,
  column_name TEXT NOT NULL,
  encoding TEXT NOT NULL,
  low REAL,
  mean REAL,
  high REAL,
  present INTEGER NOT NULL,
  envelope BLOB NOT NULL,
  data BLOB NOT NULL,
  UNIQUE (run_id, first_sample, column_name),
  FOREIGN KEY (run_id, first_sample) REFERENCES chunks(run_id, first_sample) ON DELETE CASCADE
) STRICT;

CREATE TABLE bridge_edges (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
  time_sec REAL NOT NULL,
  state TEXT NOT NULL,
  set_volt REAL
) STRICT;
CREATE INDEX bridge_edges_of_run ON bridge_edges(run_id, time_sec, id);

CREATE TABLE run_notes (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
  time_sec REAL,
  code TEXT NOT NULL,
  text TEXT NOT NULL
) STRICT;
CREATE INDEX run_notes_of_run ON run_notes(run_id, id);

CREATE TABLE rejected_lines (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  run_id INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
  raw TEXT NOT NULL,
  reason TEXT NOT NULL
) STRICT;
CREATE INDEX rejected_lines_of_run ON rejected_lines(run_id, id);

CREATE TABLE fits (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  run_ids TEXT NOT NULL,
  document TEXT NOT NULL,
  settings TEXT NOT NULL,
  inputs_hash TEXT NOT NULL,
  created_at TEXT NOT NULL
) STRICT;
CREATE INDEX fits_of_motor ON fits(motor_id, id);

CREATE TABLE limit_sets (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  type_id INTEGER NOT NULL REFERENCES types(id),
  limits TEXT NOT NULL,
  reference_temperature_celsius REAL NOT NULL,
  author TEXT NOT NULL,
  reason TEXT NOT NULL,
  set_at TEXT NOT NULL
) STRICT;
CREATE INDEX limit_sets_of_type ON limit_sets(type_id, id);

CREATE TABLE limit_references (
  limit_set_id INTEGER NOT NULL REFERENCES limit_sets(id),
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  PRIMARY KEY (limit_set_id, motor_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE batches (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  type_id INTEGER REFERENCES types(id),
  notes TEXT NOT NULL,
  created_at TEXT NOT NULL
) STRICT;

CREATE TABLE batch_motors (
  batch_id INTEGER NOT NULL REFERENCES batches(id) ON DELETE CASCADE,
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  PRIMARY KEY (batch_id, motor_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE sequences (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  state TEXT NOT NULL,
  started_at TEXT NOT NULL,
  saved_at TEXT NOT NULL,
  finished_at TEXT
) STRICT;
CREATE INDEX sequences_of_motor ON sequences(motor_id, id);
`
