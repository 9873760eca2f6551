-- A store as schema version 2 was left: what version_1.sql has, a fault, an era, a person's trust in the
-- clock, and a line that is held on its way to 12:00.
PRAGMA page_size = 512;
PRAGMA journal_mode = WAL;
BEGIN TRANSACTION;
CREATE TABLE eras (number INTEGER PRIMARY KEY, began INTEGER NOT NULL) STRICT;
INSERT INTO "eras" VALUES(1,1795523400000000000);
CREATE TABLE faults (
        name TEXT PRIMARY KEY, says TEXT NOT NULL,
        since INTEGER NOT NULL, until INTEGER NOT NULL,
        acknowledged INTEGER NOT NULL CHECK (acknowledged IN (0, 1))
    ) STRICT;
INSERT INTO "faults" VALUES('lines.hall+ welded','the contact stays closed by its sense input',1795609800000000000,0,0);
CREATE TABLE follow (day TEXT PRIMARY KEY, plan TEXT NOT NULL, who TEXT NOT NULL) STRICT;
INSERT INTO "follow" VALUES('2026-12-18','none','keeper');
CREATE TABLE "lines" (
        line TEXT PRIMARY KEY,
        read INTEGER NOT NULL CHECK (read IN (0, 1)), shown INTEGER NOT NULL,
        positions INTEGER NOT NULL,
        polarity TEXT NOT NULL CHECK (polarity IN ('+', '-')),
        polarity_known INTEGER NOT NULL CHECK (polarity_known IN (0, 1)),
        doubtful INTEGER NOT NULL CHECK (doubtful IN (0, 1)),
        held INTEGER NOT NULL CHECK (held IN (0, 1)),
        target INTEGER NOT NULL CHECK (target >= -1),
        last_utc INTEGER NOT NULL,
        step_play INTEGER,  -- this and what follows: NULL where no impulse is out
        step_polarity TEXT CHECK (step_polarity IN ('+', '-', '')),
        step_start_utc INTEGER, step_start_mono INTEGER, step_boot TEXT,
        step_counts INTEGER CHECK (step_counts IN (0, 1)),
        step_again INTEGER CHECK (step_again IN (0, 1))
    ) STRICT;
INSERT INTO "lines" VALUES('hall',0,0,720,'-',0,0,1,-1,0,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "lines" VALUES('main',1,431,720,'+',1,0,0,-1,1795609800000000000,431,'+',1795609800000000000,25860000000000,'0f6bba20-6a3c-4b52-9d5f-2f5e5a7c1d11',1,0);
INSERT INTO "lines" VALUES('yard',1,12,1440,'-',0,1,1,720,1795609740000000000,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE miss_counts (
        first_due INTEGER PRIMARY KEY, last_due INTEGER NOT NULL,
        rings INTEGER NOT NULL, why TEXT NOT NULL
    ) STRICT;
INSERT INTO "miss_counts" VALUES(1795523400000000000,1795609740000000000,12,'off');
CREATE TABLE misses (
        number INTEGER PRIMARY KEY, zone TEXT NOT NULL, written TEXT NOT NULL,
        due INTEGER NOT NULL, why TEXT NOT NULL,
        withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
        UNIQUE (zone, written)
    ) STRICT;
INSERT INTO "misses" VALUES(1,'south','2026-11-25T08:30:00',1795609800000000000,'supply',0);
CREATE TABLE notes (
        number INTEGER PRIMARY KEY, utc INTEGER NOT NULL, who TEXT NOT NULL, text TEXT NOT NULL
    ) STRICT;
INSERT INTO "notes" VALUES(41,1795609800000000000,'restorer','set to 07:11');
CREATE TABLE quiet (zone TEXT PRIMARY KEY, until INTEGER NOT NULL, who TEXT NOT NULL) STRICT;
INSERT INTO "quiet" VALUES('north',1795696200000000000,'keeper');
CREATE TABLE soundings (
        play INTEGER PRIMARY KEY, zone TEXT NOT NULL, due INTEGER NOT NULL,
        start_utc INTEGER NOT NULL, start_mono INTEGER NOT NULL, boot TEXT NOT NULL,
        edges TEXT NOT NULL,  -- JSON: ns from the start, closing, opening, closing …
        rings TEXT NOT NULL,  -- JSON: dates and times as written
        says TEXT NOT NULL, by TEXT NOT NULL,
        how TEXT NOT NULL CHECK (how IN ('begun', 'done', 'cut'))
    , era INTEGER NOT NULL DEFAULT 0) STRICT;
INSERT INTO "soundings" VALUES(7,'north',1795609800000000000,1795609800000000000,420000000000,'0f6bba20-6a3c-4b52-9d5f-2f5e5a7c1d11','[0, 5000000000]','["2026-11-25T08:30:00"]','First class','','done',0);
INSERT INTO "soundings" VALUES(8,'south',1795610100000000000,1795610100000000000,420000000000,'0f6bba20-6a3c-4b52-9d5f-2f5e5a7c1d11','[0, 5000000000]','["2026-11-25T08:30:00"]','First class','','begun',0);
CREATE TABLE stamp (
        one INTEGER PRIMARY KEY CHECK (one = 1),
        utc INTEGER NOT NULL, mono INTEGER NOT NULL, boot TEXT NOT NULL,
        trusted INTEGER NOT NULL CHECK (trusted IN (0, 1)),
        settled INTEGER, fence INTEGER, next_play INTEGER NOT NULL
    ) STRICT;
INSERT INTO "stamp" VALUES(1,1795635720000000000,25920000000000,'0f6bba20-6a3c-4b52-9d5f-2f5e5a7c1d11',1,1795635720000000000,1795609800000000000,432);
CREATE TABLE trust (
        one INTEGER PRIMARY KEY CHECK (one = 1),
        boot TEXT NOT NULL, utc INTEGER NOT NULL, who TEXT NOT NULL
    ) STRICT;
INSERT INTO "trust" VALUES(1,'0f6bba20-6a3c-4b52-9d5f-2f5e5a7c1d11',1795609800000000000,'keeper');
CREATE INDEX soundings_by_time ON soundings (start_utc);
CREATE INDEX soundings_not_ended ON soundings (play) WHERE how = 'begun';
CREATE INDEX misses_by_time ON misses (due);
CREATE INDEX notes_by_time ON notes (utc);
PRAGMA application_id = 1433298034;
PRAGMA user_version = 2;
COMMIT;
