BEGIN TRANSACTION;
CREATE TABLE alembic_version (
  version_num VARCHAR(32) NOT NULL,
  CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0003');
CREATE TABLE document (
  id VARCHAR(24) NOT NULL,
  version INTEGER NOT NULL,
  head_id INTEGER NOT NULL,
  created_at DATETIME NOT NULL,
  updated_at DATETIME NOT NULL, pins INTEGER DEFAULT '0' NOT NULL,
  CONSTRAINT pk_document PRIMARY KEY (id),
  CONSTRAINT fk_document_head_id FOREIGN KEY(head_id) REFERENCES revision (id) DEFERRABLE INITIALLY DEFERRED
);
INSERT INTO "document" VALUES('o7nb2x1t488z',5,1,'2026-11-26 00:43:57.607875','2026-11-26 00:43:57.726028',2);
INSERT INTO "document" VALUES('6foy9v2op0th',1,4,'2026-11-26 00:43:57.737621','2026-11-26 00:43:57.737621',0);
INSERT INTO "document" VALUES('s87cxmyr0ke1',1,6,'2026-11-26 00:43:57.771039','2026-11-26 00:43:57.771039',0);
CREATE TABLE revision (
  id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  document_id VARCHAR(24) NOT NULL,
  previous_id INTEGER,
  title TEXT NOT NULL,
  body TEXT NOT NULL,
  content_hash VARCHAR(64) NOT NULL,
  label TEXT NOT NULL,
  created_at DATETIME NOT NULL,
  CONSTRAINT fk_revision_document_id FOREIGN KEY(document_id) REFERENCES document (id) ON DELETE CASCADE,
  CONSTRAINT fk_revision_previous_id FOREIGN KEY(previous_id) REFERENCES revision (id)
);
INSERT INTO "revision" VALUES(1,'o7nb2x1t488z',NULL,'骨折, Größe 5 µm','{"format":"fishplate-case/1","title":"骨折, Größe 5 µm","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the pocket beneath the plate, then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','da189da54b7acc80f4b5ed8a78df1ae0b0091acaeeb2a3e3d63fc3ecf613249a','New case','2026-11-26 00:43:57.615022');
INSERT INTO "revision" VALUES(2,'o7nb2x1t488z',1,'left by undo','{"format":"fishplate-case/1","title":"left by undo","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the pocket beneath the plate, then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','54a5f158abb9ce369b9c7e7defe97949b376efccb1864c326a37ddbf90fc100d','Rename','2026-11-26 00:43:57.670519');
INSERT INTO "revision" VALUES(3,'o7nb2x1t488z',1,'the other way','{"format":"fishplate-case/1","title":"the other way","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the pocket beneath the plate, then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','0928d28666e7a85aa989fe38ca39a2f8b8911773965d013e0d17eeec994c0597','Rename, otherwise','2026-11-26 00:43:57.715759');
INSERT INTO "revision" VALUES(4,'6foy9v2op0th',NULL,'Hatch cover on the forearm: radius, transverse','{"format":"fishplate-case/1","title":"Hatch cover on the forearm: radius, transverse","note":"Invented for the demonstration: the small hospital above the fishing harbour. Transverse, so there is no room for a lag screw: the plate is bent a little over the fracture, or the far cortex opens.","bone_quality":"normal","constructs":[{"bone":{"name":"radius","length_mm":null,"midshaft_depth_mm":null},"fracture":{"code":"2R2A3","lines":[{"position_mm":128.0,"obliquity_deg":5.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"small-3.5","holes":6,"centre_mm":128.0,"standoff_mm":0.0,"prebend_mm":1.5},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','27ba0bd9a28ca33054686815f94f3d171c74118116d2109f1efafba53028440d','Copy of a sample case','2026-11-26 00:43:57.738501');
INSERT INTO "revision" VALUES(6,'s87cxmyr0ke1',NULL,'A copy','{"format":"fishplate-case/1","title":"A copy","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the pocket beneath the plate, then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','371a376b1d3f8abc970632e00076ccb75f70adc9516f12fb4d1d90e4d27dbd79','Duplicate of 骨折, Größe 5 µm','2026-11-26 00:43:57.771777');
INSERT INTO "revision" VALUES(7,'s87cxmyr0ke1',NULL,'left by undo','{"format":"fishplate-case/1","title":"left by undo","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the pocket beneath the plate, then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','54a5f158abb9ce369b9c7e7defe97949b376efccb1864c326a37ddbf90fc100d','What-if of 骨折, Größe 5 µm','2026-11-26 00:43:57.774628');
CREATE TABLE secret (
  name VARCHAR(32) NOT NULL,
  value BLOB NOT NULL,
  CONSTRAINT pk_secret PRIMARY KEY (name)
);
INSERT INTO "secret" VALUES('signing',X'6B65707420666F7220636F6F6B696573');
CREATE TABLE whatif (
  id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  document_id VARCHAR(24) NOT NULL,
  revision_id INTEGER NOT NULL,
  target INTEGER NOT NULL,
  name VARCHAR(60) NOT NULL,
  created_at DATETIME NOT NULL,
  CONSTRAINT fk_whatif_document_id FOREIGN KEY(document_id) REFERENCES document (id) ON DELETE CASCADE,
  CONSTRAINT fk_whatif_revision_id FOREIGN KEY(revision_id) REFERENCES revision (id) ON DELETE CASCADE,
  CONSTRAINT uq_whatif_document_id UNIQUE (document_id, target, name)
);
INSERT INTO "whatif" VALUES(1,'o7nb2x1t488z',1,0,'As begun','2026-11-26 00:43:57.651583');
INSERT INTO "whatif" VALUES(2,'o7nb2x1t488z',2,0,'What-if 1','2026-11-26 00:43:57.686018');
INSERT INTO "whatif" VALUES(3,'s87cxmyr0ke1',6,0,'As begun','2026-11-26 00:43:57.773853');
INSERT INTO "whatif" VALUES(4,'s87cxmyr0ke1',7,0,'What-if 1','2026-11-26 00:43:57.775262');
CREATE INDEX ix_document_updated_at ON document (updated_at);
CREATE INDEX ix_revision_document_id ON revision (document_id);
CREATE INDEX ix_revision_previous_id ON revision (previous_id);
CREATE INDEX ix_revision_content_hash ON revision (content_hash);
CREATE INDEX ix_whatif_revision_id ON whatif (revision_id);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('revision',7);
INSERT INTO "sqlite_sequence" VALUES('whatif',4);
COMMIT;
