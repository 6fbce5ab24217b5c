/** Short tests of samples with what was told beforehand, and the measurements of check motors. */
export const CHECKS = `
CREATE TABLE short_tests (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  limit_set_id INTEGER NOT NULL REFERENCES limit_sets(id),
  fit_id INTEGER NOT NULL UNIQUE REFERENCES fits(id),
  operator TEXT NOT NULL,
  prediction TEXT NOT NULL,
  tested_at TEXT NOT NULL
) STRICT;
CREATE INDEX short_tests_of_motor ON short_tests(motor_id, id);

CREATE TABLE check_measurements (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  motor_id INTEGER NOT NULL REFERENCES motors(id),
  operator TEXT NOT NULL,
  fit_id INTEGER NOT NULL UNIQUE REFERENCES fits(id),
  measured_at TEXT NOT NULL
) STRICT;
CREATE INDEX check_measurements_of_motor ON check_measurements(motor_id, id);
`
