-- A journal of version 1, as that version made it; its rows are invented. Never edited.
PRAGMA application_id=1112230478;
PRAGMA user_version=1;
BEGIN TRANSACTION;
CREATE TABLE blends (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES blends(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  name TEXT NOT NULL, made_at TEXT NOT NULL, note TEXT NOT NULL
) STRICT;
INSERT INTO "blends" VALUES('00000000000000000000000000000001',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'Quay at Dusk (invented)','2026-03-01T18:30:00+01:00','');
INSERT INTO "blends" VALUES('00000000000000000000000000000002',2,'2026-03-01T17:30:00.000001+00:00','00000000000000000000000000000001',0,'Quay at Dawn (invented)','2026-03-01T18:30:00+01:00','renamed');
CREATE TABLE versions (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES versions(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  blend_id TEXT NOT NULL, number INTEGER NOT NULL CHECK (number > 0),
  document TEXT NOT NULL, made_at TEXT NOT NULL, why TEXT NOT NULL, parent_id TEXT,
  FOREIGN KEY (blend_id) REFERENCES blends(id),
  FOREIGN KEY (parent_id) REFERENCES versions(id)
) STRICT;
INSERT INTO "versions" VALUES('00000000000000000000000000000003',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000001',1,'{"name": "Quay", "oils": []}','2026-03-01T18:30:00+01:00','',NULL);
INSERT INTO "versions" VALUES('00000000000000000000000000000004',2,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000001',2,'{"name": "=Quay 💧", "oils": [1.5]}','2026-03-02T18:30:00+01:00','it''s "sharper"','00000000000000000000000000000003');
CREATE INDEX blends_turn ON blends(turn);
CREATE INDEX blends_corrects ON blends(corrects, turn);
CREATE TRIGGER blends_no_update BEFORE UPDATE ON blends
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER blends_no_delete BEFORE DELETE ON blends
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER blends_no_replace BEFORE INSERT ON blends
WHEN EXISTS (SELECT 1 FROM blends WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER blends_corrects_first BEFORE INSERT ON blends
WHEN EXISTS (SELECT 1 FROM blends WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX versions_turn ON versions(turn);
CREATE INDEX versions_corrects ON versions(corrects, turn);
CREATE TRIGGER versions_no_update BEFORE UPDATE ON versions
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER versions_no_delete BEFORE DELETE ON versions
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER versions_no_replace BEFORE INSERT ON versions
WHEN EXISTS (SELECT 1 FROM versions WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER versions_corrects_first BEFORE INSERT ON versions
WHEN EXISTS (SELECT 1 FROM versions WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX versions_blend_id ON versions(blend_id);
CREATE INDEX versions_parent_id ON versions(parent_id);
COMMIT;
