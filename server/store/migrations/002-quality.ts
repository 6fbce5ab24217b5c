/**
 * What quality control types in by hand about a motor, and the trials of gauge studies: one identification
 * of a motor by an operator.
 */
export const QUALITY = `
CREATE TABLE hand_entries (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  quantity TEXT NOT NULL,
  unit TEXT NOT NULL,
  value REAL NOT NULL,
  standard_uncertainty REAL,
  author TEXT NOT NULL,
  written_at TEXT NOT NULL
) STRICT;
CREATE INDEX hand_entries_of_motor ON hand_entries(motor_id, id);

CREATE TABLE gauge_trials (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  study TEXT NOT NULL,
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  operator TEXT NOT NULL,
  fit_id INTEGER NOT NULL UNIQUE REFERENCES fits(id),
  recorded_at TEXT NOT NULL
) STRICT;
CREATE INDEX gauge_trials_of_study ON gauge_trials(study, id);
`
