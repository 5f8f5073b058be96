"""A database as version 0.3.0 wrote it, statement by statement; nothing here goes through today's code."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

TABLES = """
CREATE TABLE scenarios (
    number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, id VARCHAR(32) NOT NULL, revision INTEGER NOT NULL,
    name VARCHAR(200) NOT NULL, title TEXT NOT NULL, targets INTEGER NOT NULL, season_start DATE NOT NULL,
    season_nights INTEGER NOT NULL, created DATETIME NOT NULL, changed DATETIME NOT NULL,
    CONSTRAINT uq_scenarios_id UNIQUE (id)
);
CREATE TABLE revisions (
    scenario VARCHAR(32) NOT NULL, revision INTEGER NOT NULL, scenario_toml BLOB NOT NULL,
    wish_list_csv BLOB NOT NULL,
    CONSTRAINT pk_revisions PRIMARY KEY (scenario, revision),
    CONSTRAINT fk_revisions_scenario FOREIGN KEY(scenario) REFERENCES scenarios (id) ON DELETE CASCADE
);
CREATE TABLE plans (
    number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, id VARCHAR(32) NOT NULL, scenario VARCHAR(32) NOT NULL,
    revision INTEGER NOT NULL, version INTEGER NOT NULL, objective FLOAT NOT NULL, bound FLOAT NOT NULL,
    visits INTEGER NOT NULL, unplaced INTEGER NOT NULL, created DATETIME NOT NULL,
    CONSTRAINT uq_plans_scenario_version UNIQUE (scenario, version),
    CONSTRAINT fk_plans_scenario_revision FOREIGN KEY(scenario, revision)
        REFERENCES revisions (scenario, revision) ON DELETE CASCADE,
    CONSTRAINT uq_plans_id UNIQUE (id),
    CONSTRAINT fk_plans_scenario FOREIGN KEY(scenario) REFERENCES scenarios (id) ON DELETE CASCADE
);
CREATE INDEX ix_plans_scenario ON plans (scenario);
CREATE TABLE plan_files (
    "plan" VARCHAR(32) NOT NULL, name VARCHAR(100) NOT NULL, text TEXT NOT NULL, digest VARCHAR(64) NOT NULL,
    CONSTRAINT pk_plan_files PRIMARY KEY ("plan", name),
    CONSTRAINT fk_plan_files_plan FOREIGN KEY("plan") REFERENCES plans (id) ON DELETE CASCADE
);
CREATE TABLE jobs (
    number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, id VARCHAR(32) NOT NULL, scenario VARCHAR(32) NOT NULL,
    revision INTEGER NOT NULL, seed INTEGER NOT NULL, seconds FLOAT NOT NULL, "key" VARCHAR(200),
    state VARCHAR(20) NOT NULL, cancelling BOOLEAN NOT NULL, stage TEXT NOT NULL, fraction FLOAT NOT NULL,
    objective FLOAT, bound FLOAT, "plan" VARCHAR(32), problem JSON, created DATETIME NOT NULL,
    started DATETIME, ended DATETIME,
    CONSTRAINT fk_jobs_scenario_revision FOREIGN KEY(scenario, revision)
        REFERENCES revisions (scenario, revision) ON DELETE CASCADE,
    CONSTRAINT uq_jobs_id UNIQUE (id),
    CONSTRAINT fk_jobs_scenario FOREIGN KEY(scenario) REFERENCES scenarios (id) ON DELETE CASCADE,
    CONSTRAINT uq_jobs_key UNIQUE ("key"),
    CONSTRAINT fk_jobs_plan FOREIGN KEY("plan") REFERENCES plans (id) ON DELETE CASCADE
);
CREATE INDEX ix_jobs_scenario ON jobs (scenario);
CREATE INDEX ix_jobs_state ON jobs (state);
PRAGMA user_version = 1;
"""

ROWS = """
INSERT INTO scenarios VALUES
    (1, 'aaaaaaaaaaaaaaaaaaaa', 2, 'winter-year', 'Ein Jahr', 2, '2026-09-01', 365,
     '2026-08-01 20:00:00.000000', '2026-08-02 21:30:00.250000'),
    (3, 'bbbbbbbbbbbbbbbbbbbb', 1, 'spring', '', 1, '2027-03-01', 90,
     '2026-09-01 20:00:00.000000', '2026-09-01 20:00:00.000000');
INSERT INTO revisions VALUES
    ('aaaaaaaaaaaaaaaaaaaa', 1, x'746f6d6c', x'637376'), ('aaaaaaaaaaaaaaaaaaaa', 2, x'00ff', x'0d0a'),
    ('bbbbbbbbbbbbbbbbbbbb', 1, x'746f6d6c', x'');
INSERT INTO plans VALUES
    (4, 'cccccccccccccccccccc', 'aaaaaaaaaaaaaaaaaaaa', 1, 1, 3.5, 4.25, 58, 2, '2026-08-01 20:05:00.000000');
INSERT INTO plan_files VALUES
    ('cccccccccccccccccccc', 'plan.json', '{}',
     '44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a');
INSERT INTO jobs VALUES
    (1, 'dddddddddddddddddddd', 'aaaaaaaaaaaaaaaaaaaa', 1, 7, 10.0, 'a key', 'done', 0, 'done', 1.0, 3.5,
     4.25, 'cccccccccccccccccccc', NULL, '2026-08-01 20:00:01.000000', '2026-08-01 20:00:02.000000',
     '2026-08-01 20:05:00.000000'),
    (2, 'eeeeeeeeeeeeeeeeeeee', 'aaaaaaaaaaaaaaaaaaaa', 2, 0, 2.5, NULL, 'failed', 0, 'starting', 0.0, NULL,
     NULL, NULL, '{"type": "/problems/interrupted"}', '2026-08-01 21:00:01.000000', NULL, NULL),
    (5, 'ffffffffffffffffffff', 'bbbbbbbbbbbbbbbbbbbb', 1, 0, 2.5, NULL, 'waiting', 0, 'waiting', 0.0, NULL,
     NULL, NULL, NULL, '2026-08-01 21:00:01.000000', NULL, NULL);
UPDATE sqlite_sequence SET seq = 9 WHERE name = 'scenarios';
UPDATE sqlite_sequence SET seq = 12 WHERE name = 'jobs';
"""
"""Numbers up to 9 and 12 had been given; their rows were deleted."""


def write_old(path: Path, rows: str = ROWS) -> None:
    """Write a database of version 0.3.0."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.executescript(TABLES + rows)
