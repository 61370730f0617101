-- A journal of version 13, as that version made it; its rows are invented. Never edited.
PRAGMA application_id=1112230478;
PRAGMA user_version=13;
BEGIN TRANSACTION;
CREATE TABLE answers (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES answers(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  kind TEXT NOT NULL CHECK (kind IN ('loudness', 'duel', 'blind')), nose TEXT NOT NULL,
  document TEXT NOT NULL, answered_at TEXT NOT NULL
) STRICT;
INSERT INTO "answers" VALUES('00000000000000000000000000000901',1,'2026-12-01T07:30:00+00:00',NULL,0,'loudness','me','{"first": "lavender", "step": 3, "louder": "second"}','2026-12-01T08:30:00+01:00');
CREATE TABLE batch_bottles (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES batch_bottles(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  batch_id TEXT NOT NULL, count INTEGER NOT NULL CHECK (count > 0),
  size_ml REAL NOT NULL CHECK (size_ml > 0),
  FOREIGN KEY (batch_id) REFERENCES batches(id)
) STRICT;
INSERT INTO "batch_bottles" VALUES('00000000000000000000000000000006',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000005',12,10.0);
CREATE TABLE batch_materials (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES batch_materials(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  batch_id TEXT NOT NULL, material TEXT NOT NULL,
  volume_ml REAL CHECK (volume_ml >= 0), mass_g REAL CHECK (mass_g >= 0),
  supplier_lot TEXT NOT NULL, opened_on TEXT,
  CHECK (volume_ml IS NOT NULL OR mass_g IS NOT NULL),
  FOREIGN KEY (batch_id) REFERENCES batches(id)
) STRICT;
INSERT INTO "batch_materials" VALUES('00000000000000000000000000000007',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000005','lavender',NULL,4.25,'A12','2026-01-15');
CREATE TABLE batch_papers (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES batch_papers(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  batch_id TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('record', 'release', 'stability')),
  document TEXT NOT NULL, dated_on TEXT NOT NULL,
  FOREIGN KEY (batch_id) REFERENCES batches(id)
) STRICT;
INSERT INTO "batch_papers" VALUES('00000000000000000000000000000a01',1,'2026-12-01T07:30:00+00:00',NULL,0,'00000000000000000000000000000005','stability','{"smell": "as before (invented)"}','2026-12-01');
CREATE TABLE batches (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES batches(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  version_id TEXT NOT NULL, lot TEXT NOT NULL, made_on TEXT NOT NULL,
  note TEXT NOT NULL, computer TEXT NOT NULL DEFAULT '',
  FOREIGN KEY (version_id) REFERENCES versions(id)
) STRICT;
INSERT INTO "batches" VALUES('00000000000000000000000000000005',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000004','20260302-1','2026-03-02','','');
INSERT INTO "batches" VALUES('00000000000000000000000000000701',2,'2026-11-30T17:30:00+00:00',NULL,0,'00000000000000000000000000000004','20261130-1','2026-11-30','','kitchen (invented)');
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
CREATE TABLE classes (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES classes(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  name TEXT NOT NULL, document TEXT NOT NULL, kept_at TEXT NOT NULL
) STRICT;
INSERT INTO "classes" VALUES('00000000000000000000000000000608',1,'2026-11-25T17:30:00+00:00',NULL,0,'Evening (invented)','{"name": "Evening (invented)"}','2026-11-25T18:30:00+01:00');
CREATE TABLE counts (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES counts(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  material TEXT NOT NULL, left_ml REAL NOT NULL CHECK (left_ml >= 0),
  counted_on TEXT, entered_at TEXT NOT NULL
) STRICT;
INSERT INTO "counts" VALUES('00000000000000000000000000000604',1,'2026-11-25T17:30:00+00:00',NULL,0,'jojoba',0.0,NULL,'2026-11-25T18:30:00+01:00');
CREATE TABLE droppers (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES droppers(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  material TEXT NOT NULL, drops_per_ml REAL NOT NULL CHECK (drops_per_ml > 0),
  how_measured TEXT NOT NULL, entered_at TEXT NOT NULL
) STRICT;
INSERT INTO "droppers" VALUES('00000000000000000000000000000605',1,'2026-11-25T17:30:00+00:00',NULL,0,'lavender',26.5,'drops weighed on a scale','2026-11-25T18:30:00+01:00');
CREATE TABLE events (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES events(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  session_id TEXT NOT NULL, kind TEXT NOT NULL, details TEXT NOT NULL,
  happened_at TEXT NOT NULL,
  FOREIGN KEY (session_id) REFERENCES sessions(id)
) STRICT;
INSERT INTO "events" VALUES('00000000000000000000000000000009',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000008','added','{"drops": 3}','2026-03-02T18:30:00+01:00');
INSERT INTO "events" VALUES('0000000000000000000000000000000a',2,'2026-03-01T17:30:00.000001+00:00','00000000000000000000000000000009',1,'00000000000000000000000000000008','added','{"drops": 3}','2026-03-02T18:30:00+01:00');
CREATE TABLE hand (
  id INTEGER PRIMARY KEY CHECK (id = 1), turn INTEGER NOT NULL CHECK (turn > 0),
  document TEXT NOT NULL, step INTEGER NOT NULL CHECK (step >= 0)
) STRICT;
INSERT INTO "hand" VALUES(1,3,'{"blend": {"name": "Quay (invented)", "strength": "25 %"}}',1);
CREATE TABLE hand_steps (
  id INTEGER PRIMARY KEY CHECK (id > 0), turn INTEGER NOT NULL CHECK (turn > 0),
  changes TEXT NOT NULL, what TEXT NOT NULL, press TEXT NOT NULL, made_at TEXT NOT NULL
) STRICT;
INSERT INTO "hand_steps" VALUES(1,1,'[[["blend", "strength"], ["20 %"], ["25 %"]]]','','p1','2026-11-30T17:30:00+00:00');
CREATE TABLE handovers (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES handovers(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  batch_id TEXT NOT NULL, person TEXT NOT NULL,
  way TEXT NOT NULL CHECK (way IN ('gift', 'sale', 'tester')),
  bottles INTEGER NOT NULL CHECK (bottles > 0), handed_on TEXT NOT NULL,
  document TEXT NOT NULL,
  FOREIGN KEY (batch_id) REFERENCES batches(id)
) STRICT;
INSERT INTO "handovers" VALUES('00000000000000000000000000000a03',1,'2026-12-01T07:30:00+00:00',NULL,0,'00000000000000000000000000000005','p1','gift',2,'2026-12-01','{}');
CREATE TABLE impressions (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES impressions(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  kind TEXT NOT NULL CHECK (kind IN ('sniff', 'wear', 'maceration')),
  happened_at TEXT NOT NULL, "group" TEXT NOT NULL,
  strength REAL CHECK (strength BETWEEN 0 AND 10), words TEXT NOT NULL,
  version_id TEXT, batch_id TEXT, session_id TEXT, minutes REAL CHECK (minutes >= 0), smell TEXT NOT NULL DEFAULT '', details TEXT NOT NULL DEFAULT '{}',
  CHECK (coalesce(version_id, batch_id, session_id) IS NOT NULL),
  FOREIGN KEY (version_id) REFERENCES versions(id),
  FOREIGN KEY (batch_id) REFERENCES batches(id),
  FOREIGN KEY (session_id) REFERENCES sessions(id)
) STRICT;
INSERT INTO "impressions" VALUES('0000000000000000000000000000000b',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'sniff','2026-03-03T18:30:00+01:00','top',7.5,'bright',NULL,'00000000000000000000000000000005',NULL,NULL,'','{}');
INSERT INTO "impressions" VALUES('0000000000000000000000000000000e',2,'2026-03-01T17:30:00.000001+00:00',NULL,0,'wear','2026-03-04T18:30:00+01:00','whole',NULL,'','00000000000000000000000000000004',NULL,NULL,90.0,'weak','{"surface": "skin"}');
CREATE TABLE likes (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES likes(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  version_id TEXT NOT NULL, person TEXT NOT NULL,
  liked INTEGER NOT NULL CHECK (liked IN (0, 1)), happened_at TEXT NOT NULL,
  words TEXT NOT NULL,
  FOREIGN KEY (version_id) REFERENCES versions(id)
) STRICT;
INSERT INTO "likes" VALUES('0000000000000000000000000000000c',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000004','A guest (invented)',1,'2026-03-03T18:30:00+01:00','');
CREATE TABLE makers (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES makers(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  maker TEXT NOT NULL, contact TEXT NOT NULL, kept_at TEXT NOT NULL
) STRICT;
INSERT INTO "makers" VALUES('00000000000000000000000000000607',1,'2026-11-25T17:30:00+00:00',NULL,0,'A maker (invented) 💧','nowhere','2026-11-25T18:30:00+01:00');
CREATE TABLE makings (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES makings(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  material TEXT NOT NULL, lot TEXT NOT NULL, made_on TEXT NOT NULL,
  volume_ml REAL NOT NULL CHECK (volume_ml > 0), taken_ml TEXT NOT NULL,
  price REAL CHECK (price > 0), currency TEXT, note TEXT NOT NULL
) STRICT;
INSERT INTO "makings" VALUES('00000000000000000000000000000802',1,'2026-11-30T17:30:00+00:00',NULL,0,'my-rose-3-in-jojoba-invented@0123456789','20261130-1','2026-11-30',10.0,'{"jojoba": 9.7, "rose-otto": 0.3}',4.5,'EUR','');
CREATE TABLE older_files (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES older_files(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  file TEXT NOT NULL, digest TEXT NOT NULL
) STRICT;
INSERT INTO "older_files" VALUES('00000000000000000000000000000609',1,'2026-11-25T17:30:00+00:00',NULL,0,'blends/Dusk.json','0000000000000000000000000000000000000000000000000000000000000000');
CREATE TABLE own_lots (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES own_lots(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  oil TEXT NOT NULL, lot TEXT NOT NULL, analysis TEXT NOT NULL,
  kept_at TEXT NOT NULL
) STRICT;
INSERT INTO "own_lots" VALUES('00000000000000000000000000000601',1,'2026-11-25T17:30:00+00:00',NULL,0,'lavender','A12 (invented)','{"percents": {"78-70-6": [30.0, 36.0, 40.0]}, "unmatched": {"Unobtainium": 1.2}}','2026-11-25T18:30:00+01:00');
CREATE TABLE own_materials (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES own_materials(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  name TEXT NOT NULL, document TEXT NOT NULL, kept_at TEXT NOT NULL
) STRICT;
INSERT INTO "own_materials" VALUES('00000000000000000000000000000801',1,'2026-11-30T17:30:00+00:00',NULL,0,'Rose 3 % in jojoba (invented)','{"by": "mass", "kind": "mixture", "parts": {"jojoba": 97, "rose-otto": 3}}','2026-11-30T18:30:00+01:00');
CREATE TABLE packs (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES packs(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  document TEXT NOT NULL, kept_at TEXT NOT NULL
) STRICT;
INSERT INTO "packs" VALUES('00000000000000000000000000000606',1,'2026-11-25T17:30:00+00:00',NULL,0,'{"packs": [{"material": "lavender", "size": "30 mL", "price": "9", "supplier": "=invented"}]}','2026-11-25T18:30:00+01:00');
CREATE TABLE people (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32), turn INTEGER NOT NULL CHECK (turn > 0),
  document TEXT NOT NULL, forgotten INTEGER NOT NULL CHECK (forgotten IN (0, 1)),
  changed_at TEXT NOT NULL, CHECK (NOT forgotten OR document = '{}')
) STRICT;
INSERT INTO "people" VALUES('00000000000000000000000000000b01',1,'{"name": "Somebody (invented)", "contact": "", "note": "", "reactions": {}}',0,'2026-12-01T07:30:00+00:00');
INSERT INTO "people" VALUES('00000000000000000000000000000b02',2,'{}',1,'2026-12-01T07:31:00+00:00');
CREATE TABLE photos (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES photos(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  path TEXT NOT NULL, taken_at TEXT NOT NULL, caption TEXT NOT NULL,
  version_id TEXT, batch_id TEXT, session_id TEXT,
  CHECK (coalesce(version_id, batch_id, session_id) IS NOT NULL),
  FOREIGN KEY (version_id) REFERENCES versions(id),
  FOREIGN KEY (batch_id) REFERENCES batches(id),
  FOREIGN KEY (session_id) REFERENCES sessions(id)
) STRICT;
INSERT INTO "photos" VALUES('0000000000000000000000000000000d',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'photos/quay.jpg','2026-03-03T18:30:00+01:00','','00000000000000000000000000000003',NULL,NULL);
CREATE TABLE purchases (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES purchases(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  material TEXT NOT NULL, bottle_ml REAL CHECK (bottle_ml > 0),
  bottles INTEGER NOT NULL CHECK (bottles > 0), price REAL CHECK (price > 0), currency TEXT,
  bought_on TEXT, opened_on TEXT, entered_at TEXT NOT NULL
) STRICT;
INSERT INTO "purchases" VALUES('00000000000000000000000000000602',1,'2026-11-25T17:30:00+00:00',NULL,0,'lavender',10.0,2,8.5,'EUR','2026-11-20',NULL,'2026-11-25T18:30:00+01:00');
INSERT INTO "purchases" VALUES('00000000000000000000000000000603',2,'2026-11-25T17:30:00+00:00','00000000000000000000000000000602',0,'lavender',10.0,1,8.5,'EUR','2026-11-20','2026-11-21','2026-11-25T18:30:00+01:00');
CREATE TABLE sessions (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES sessions(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  title TEXT NOT NULL, started_at TEXT NOT NULL, version_id TEXT, batch_id TEXT,
  FOREIGN KEY (version_id) REFERENCES versions(id),
  FOREIGN KEY (batch_id) REFERENCES batches(id)
) STRICT;
INSERT INTO "sessions" VALUES('00000000000000000000000000000008',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'second try','2026-03-02T18:30:00+01:00','00000000000000000000000000000004',NULL);
CREATE TABLE storing (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES storing(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  material TEXT NOT NULL, document TEXT NOT NULL, kept_at TEXT NOT NULL
) STRICT;
INSERT INTO "storing" VALUES('00000000000000000000000000000a02',1,'2026-12-01T07:30:00+00:00',NULL,0,'lavender','{"place": "cupboard"}','2026-12-01T08:30:00+01:00');
CREATE TABLE versions (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES versions(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  blend_id TEXT NOT NULL, number INTEGER NOT NULL CHECK (number > 0),
  document TEXT NOT NULL, made_at TEXT NOT NULL, why TEXT NOT NULL, parent_id TEXT, computer TEXT NOT NULL DEFAULT '',
  FOREIGN KEY (blend_id) REFERENCES blends(id),
  FOREIGN KEY (parent_id) REFERENCES versions(id)
) STRICT;
INSERT INTO "versions" VALUES('00000000000000000000000000000003',1,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000001',1,'{"name": "Quay", "oils": []}','2026-03-01T18:30:00+01:00','',NULL,'');
INSERT INTO "versions" VALUES('00000000000000000000000000000004',2,'2026-03-01T17:30:00.000001+00:00',NULL,0,'00000000000000000000000000000001',2,'{"name": "=Quay 💧", "oils": [1.5]}','2026-03-02T18:30:00+01:00','it''s "sharper"','00000000000000000000000000000003','');
CREATE TABLE weighings (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
  turn INTEGER NOT NULL CHECK (turn > 0),
  recorded_at TEXT NOT NULL,
  corrects TEXT REFERENCES weighings(id),
  withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
  kind TEXT NOT NULL CHECK (kind IN ('strokes', 'drop')), document TEXT NOT NULL,
  weighed_at TEXT NOT NULL
) STRICT;
INSERT INTO "weighings" VALUES('0000000000000000000000000000ab08',400,'2026-03-06T08:00:00.000001+00:00',NULL,0,'strokes','{"kind": "strokes", "before": "24.31 g", "after": "24.16 g", "strokes": 10, "worn": 2, "length": "4 cm", "width": "2 cm", "scale_step": "0.01 g"}','2026-03-06T08:00:00.000000+00:00');
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
CREATE INDEX batches_turn ON batches(turn);
CREATE INDEX batches_corrects ON batches(corrects, turn);
CREATE TRIGGER batches_no_update BEFORE UPDATE ON batches
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER batches_no_delete BEFORE DELETE ON batches
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER batches_no_replace BEFORE INSERT ON batches
WHEN EXISTS (SELECT 1 FROM batches WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER batches_corrects_first BEFORE INSERT ON batches
WHEN EXISTS (SELECT 1 FROM batches WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX batches_version_id ON batches(version_id);
CREATE INDEX batch_bottles_turn ON batch_bottles(turn);
CREATE INDEX batch_bottles_corrects ON batch_bottles(corrects, turn);
CREATE TRIGGER batch_bottles_no_update BEFORE UPDATE ON batch_bottles
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER batch_bottles_no_delete BEFORE DELETE ON batch_bottles
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER batch_bottles_no_replace BEFORE INSERT ON batch_bottles
WHEN EXISTS (SELECT 1 FROM batch_bottles WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER batch_bottles_corrects_first BEFORE INSERT ON batch_bottles
WHEN EXISTS (SELECT 1 FROM batch_bottles WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX batch_bottles_batch_id ON batch_bottles(batch_id);
CREATE INDEX batch_materials_turn ON batch_materials(turn);
CREATE INDEX batch_materials_corrects ON batch_materials(corrects, turn);
CREATE TRIGGER batch_materials_no_update BEFORE UPDATE ON batch_materials
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER batch_materials_no_delete BEFORE DELETE ON batch_materials
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER batch_materials_no_replace BEFORE INSERT ON batch_materials
WHEN EXISTS (SELECT 1 FROM batch_materials WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER batch_materials_corrects_first BEFORE INSERT ON batch_materials
WHEN EXISTS (SELECT 1 FROM batch_materials WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX batch_materials_batch_id ON batch_materials(batch_id);
CREATE INDEX sessions_turn ON sessions(turn);
CREATE INDEX sessions_corrects ON sessions(corrects, turn);
CREATE TRIGGER sessions_no_update BEFORE UPDATE ON sessions
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER sessions_no_delete BEFORE DELETE ON sessions
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER sessions_no_replace BEFORE INSERT ON sessions
WHEN EXISTS (SELECT 1 FROM sessions WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER sessions_corrects_first BEFORE INSERT ON sessions
WHEN EXISTS (SELECT 1 FROM sessions WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX sessions_version_id ON sessions(version_id);
CREATE INDEX sessions_batch_id ON sessions(batch_id);
CREATE INDEX events_turn ON events(turn);
CREATE INDEX events_corrects ON events(corrects, turn);
CREATE TRIGGER events_no_update BEFORE UPDATE ON events
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER events_no_delete BEFORE DELETE ON events
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER events_no_replace BEFORE INSERT ON events
WHEN EXISTS (SELECT 1 FROM events WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER events_corrects_first BEFORE INSERT ON events
WHEN EXISTS (SELECT 1 FROM events WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX events_session_id ON events(session_id);
CREATE INDEX impressions_turn ON impressions(turn);
CREATE INDEX impressions_corrects ON impressions(corrects, turn);
CREATE TRIGGER impressions_no_update BEFORE UPDATE ON impressions
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER impressions_no_delete BEFORE DELETE ON impressions
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER impressions_no_replace BEFORE INSERT ON impressions
WHEN EXISTS (SELECT 1 FROM impressions WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER impressions_corrects_first BEFORE INSERT ON impressions
WHEN EXISTS (SELECT 1 FROM impressions WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX impressions_version_id ON impressions(version_id);
CREATE INDEX impressions_batch_id ON impressions(batch_id);
CREATE INDEX impressions_session_id ON impressions(session_id);
CREATE INDEX likes_turn ON likes(turn);
CREATE INDEX likes_corrects ON likes(corrects, turn);
CREATE TRIGGER likes_no_update BEFORE UPDATE ON likes
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER likes_no_delete BEFORE DELETE ON likes
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER likes_no_replace BEFORE INSERT ON likes
WHEN EXISTS (SELECT 1 FROM likes WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER likes_corrects_first BEFORE INSERT ON likes
WHEN EXISTS (SELECT 1 FROM likes WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX likes_version_id ON likes(version_id);
CREATE INDEX photos_turn ON photos(turn);
CREATE INDEX photos_corrects ON photos(corrects, turn);
CREATE TRIGGER photos_no_update BEFORE UPDATE ON photos
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER photos_no_delete BEFORE DELETE ON photos
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER photos_no_replace BEFORE INSERT ON photos
WHEN EXISTS (SELECT 1 FROM photos WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER photos_corrects_first BEFORE INSERT ON photos
WHEN EXISTS (SELECT 1 FROM photos WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX photos_version_id ON photos(version_id);
CREATE INDEX photos_batch_id ON photos(batch_id);
CREATE INDEX photos_session_id ON photos(session_id);
CREATE INDEX own_lots_turn ON own_lots(turn);
CREATE INDEX own_lots_corrects ON own_lots(corrects, turn);
CREATE TRIGGER own_lots_no_update BEFORE UPDATE ON own_lots
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER own_lots_no_delete BEFORE DELETE ON own_lots
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER own_lots_no_replace BEFORE INSERT ON own_lots
WHEN EXISTS (SELECT 1 FROM own_lots WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER own_lots_corrects_first BEFORE INSERT ON own_lots
WHEN EXISTS (SELECT 1 FROM own_lots WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX purchases_turn ON purchases(turn);
CREATE INDEX purchases_corrects ON purchases(corrects, turn);
CREATE TRIGGER purchases_no_update BEFORE UPDATE ON purchases
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER purchases_no_delete BEFORE DELETE ON purchases
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER purchases_no_replace BEFORE INSERT ON purchases
WHEN EXISTS (SELECT 1 FROM purchases WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER purchases_corrects_first BEFORE INSERT ON purchases
WHEN EXISTS (SELECT 1 FROM purchases WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX counts_turn ON counts(turn);
CREATE INDEX counts_corrects ON counts(corrects, turn);
CREATE TRIGGER counts_no_update BEFORE UPDATE ON counts
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER counts_no_delete BEFORE DELETE ON counts
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER counts_no_replace BEFORE INSERT ON counts
WHEN EXISTS (SELECT 1 FROM counts WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER counts_corrects_first BEFORE INSERT ON counts
WHEN EXISTS (SELECT 1 FROM counts WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX droppers_turn ON droppers(turn);
CREATE INDEX droppers_corrects ON droppers(corrects, turn);
CREATE TRIGGER droppers_no_update BEFORE UPDATE ON droppers
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER droppers_no_delete BEFORE DELETE ON droppers
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER droppers_no_replace BEFORE INSERT ON droppers
WHEN EXISTS (SELECT 1 FROM droppers WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER droppers_corrects_first BEFORE INSERT ON droppers
WHEN EXISTS (SELECT 1 FROM droppers WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX packs_turn ON packs(turn);
CREATE INDEX packs_corrects ON packs(corrects, turn);
CREATE TRIGGER packs_no_update BEFORE UPDATE ON packs
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER packs_no_delete BEFORE DELETE ON packs
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER packs_no_replace BEFORE INSERT ON packs
WHEN EXISTS (SELECT 1 FROM packs WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER packs_corrects_first BEFORE INSERT ON packs
WHEN EXISTS (SELECT 1 FROM packs WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX makers_turn ON makers(turn);
CREATE INDEX makers_corrects ON makers(corrects, turn);
CREATE TRIGGER makers_no_update BEFORE UPDATE ON makers
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER makers_no_delete BEFORE DELETE ON makers
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER makers_no_replace BEFORE INSERT ON makers
WHEN EXISTS (SELECT 1 FROM makers WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER makers_corrects_first BEFORE INSERT ON makers
WHEN EXISTS (SELECT 1 FROM makers WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX classes_turn ON classes(turn);
CREATE INDEX classes_corrects ON classes(corrects, turn);
CREATE TRIGGER classes_no_update BEFORE UPDATE ON classes
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER classes_no_delete BEFORE DELETE ON classes
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER classes_no_replace BEFORE INSERT ON classes
WHEN EXISTS (SELECT 1 FROM classes WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER classes_corrects_first BEFORE INSERT ON classes
WHEN EXISTS (SELECT 1 FROM classes WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX older_files_turn ON older_files(turn);
CREATE INDEX older_files_corrects ON older_files(corrects, turn);
CREATE TRIGGER older_files_no_update BEFORE UPDATE ON older_files
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER older_files_no_delete BEFORE DELETE ON older_files
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER older_files_no_replace BEFORE INSERT ON older_files
WHEN EXISTS (SELECT 1 FROM older_files WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER older_files_corrects_first BEFORE INSERT ON older_files
WHEN EXISTS (SELECT 1 FROM older_files WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX weighings_turn ON weighings(turn);
CREATE INDEX weighings_corrects ON weighings(corrects, turn);
CREATE TRIGGER weighings_no_update BEFORE UPDATE ON weighings
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER weighings_no_delete BEFORE DELETE ON weighings
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER weighings_no_replace BEFORE INSERT ON weighings
WHEN EXISTS (SELECT 1 FROM weighings WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER weighings_corrects_first BEFORE INSERT ON weighings
WHEN EXISTS (SELECT 1 FROM weighings WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX own_materials_turn ON own_materials(turn);
CREATE INDEX own_materials_corrects ON own_materials(corrects, turn);
CREATE TRIGGER own_materials_no_update BEFORE UPDATE ON own_materials
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER own_materials_no_delete BEFORE DELETE ON own_materials
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER own_materials_no_replace BEFORE INSERT ON own_materials
WHEN EXISTS (SELECT 1 FROM own_materials WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER own_materials_corrects_first BEFORE INSERT ON own_materials
WHEN EXISTS (SELECT 1 FROM own_materials WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX makings_turn ON makings(turn);
CREATE INDEX makings_corrects ON makings(corrects, turn);
CREATE TRIGGER makings_no_update BEFORE UPDATE ON makings
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER makings_no_delete BEFORE DELETE ON makings
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER makings_no_replace BEFORE INSERT ON makings
WHEN EXISTS (SELECT 1 FROM makings WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER makings_corrects_first BEFORE INSERT ON makings
WHEN EXISTS (SELECT 1 FROM makings WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX answers_turn ON answers(turn);
CREATE INDEX answers_corrects ON answers(corrects, turn);
CREATE TRIGGER answers_no_update BEFORE UPDATE ON answers
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER answers_no_delete BEFORE DELETE ON answers
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER answers_no_replace BEFORE INSERT ON answers
WHEN EXISTS (SELECT 1 FROM answers WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER answers_corrects_first BEFORE INSERT ON answers
WHEN EXISTS (SELECT 1 FROM answers WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX batch_papers_turn ON batch_papers(turn);
CREATE INDEX batch_papers_corrects ON batch_papers(corrects, turn);
CREATE TRIGGER batch_papers_no_update BEFORE UPDATE ON batch_papers
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER batch_papers_no_delete BEFORE DELETE ON batch_papers
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER batch_papers_no_replace BEFORE INSERT ON batch_papers
WHEN EXISTS (SELECT 1 FROM batch_papers WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER batch_papers_corrects_first BEFORE INSERT ON batch_papers
WHEN EXISTS (SELECT 1 FROM batch_papers WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX batch_papers_batch_id ON batch_papers(batch_id);
CREATE INDEX storing_turn ON storing(turn);
CREATE INDEX storing_corrects ON storing(corrects, turn);
CREATE TRIGGER storing_no_update BEFORE UPDATE ON storing
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER storing_no_delete BEFORE DELETE ON storing
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER storing_no_replace BEFORE INSERT ON storing
WHEN EXISTS (SELECT 1 FROM storing WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER storing_corrects_first BEFORE INSERT ON storing
WHEN EXISTS (SELECT 1 FROM storing WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX handovers_turn ON handovers(turn);
CREATE INDEX handovers_corrects ON handovers(corrects, turn);
CREATE TRIGGER handovers_no_update BEFORE UPDATE ON handovers
BEGIN SELECT raise(ABORT, 'a journal row is never rewritten'); END;
CREATE TRIGGER handovers_no_delete BEFORE DELETE ON handovers
BEGIN SELECT raise(ABORT, 'a journal row is never deleted'); END;
CREATE TRIGGER handovers_no_replace BEFORE INSERT ON handovers
WHEN EXISTS (SELECT 1 FROM handovers WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a journal row is never replaced'); END;
CREATE TRIGGER handovers_corrects_first BEFORE INSERT ON handovers
WHEN EXISTS (SELECT 1 FROM handovers WHERE id = NEW.corrects AND corrects IS NOT NULL)
BEGIN SELECT raise(ABORT, 'a correction points at the first row'); END;
CREATE INDEX handovers_batch_id ON handovers(batch_id);
CREATE TRIGGER people_stay_forgotten BEFORE UPDATE ON people
WHEN NEW.id <> OLD.id OR OLD.forgotten > NEW.forgotten
BEGIN SELECT raise(ABORT, 'a person was forgotten'); END;
CREATE TRIGGER people_no_delete BEFORE DELETE ON people WHEN OLD.forgotten
BEGIN SELECT raise(ABORT, 'a person was forgotten'); END;
CREATE TRIGGER people_no_replace BEFORE INSERT ON people
WHEN EXISTS (SELECT 1 FROM people WHERE id = NEW.id)
BEGIN SELECT raise(ABORT, 'a person is there already'); END;
COMMIT;
