BEGIN TRANSACTION;
CREATE TABLE alembic_version (
  version_num VARCHAR(32) NOT NULL,
  CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0004');
CREATE TABLE document (
  id VARCHAR(24) NOT NULL,
  version INTEGER NOT NULL,
  head_id INTEGER NOT NULL,
  created_at DATETIME NOT NULL,
  updated_at DATETIME NOT NULL, pins INTEGER DEFAULT '0' NOT NULL,
  CONSTRAINT pk_document PRIMARY KEY (id),
  CONSTRAINT fk_document_head_id FOREIGN KEY(head_id) REFERENCES revision (id) DEFERRABLE INITIALLY DEFERRED
);
INSERT INTO "document" VALUES('sf40jn98keup',5,1,'2026-11-27 01:29:59.481277','2026-11-27 01:29:59.495431',2);
INSERT INTO "document" VALUES('8rzs7t3emkau',1,4,'2026-11-27 01:29:59.496496','2026-11-27 01:29:59.496496',0);
INSERT INTO "document" VALUES('hswn1hoew71o',1,6,'2026-11-27 01:29:59.508621','2026-11-27 01:29:59.508621',0);
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
INSERT INTO "revision" VALUES(1,'sf40jn98keup',NULL,'骨折, Größe 5 µm','{"format":"fishplate-case/2","title":"骨折, Größe 5 µm","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the axilla (the pocket between plate and corner), then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","side":"left","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"turn_deg":0.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","surface":"anterolateral","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','e054b073b9f5ddee4cb6aead7c3fd5e659f01f42ee15861f68823899691d397a','New case','2026-11-27 01:29:59.482423');
INSERT INTO "revision" VALUES(2,'sf40jn98keup',1,'left by undo','{"format":"fishplate-case/2","title":"left by undo","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the axilla (the pocket between plate and corner), then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","side":"left","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"turn_deg":0.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","surface":"anterolateral","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','f48d7d6963afe9ccfcf8216949ebaf69f565b4958b933addb29890ed15c6d68a','Rename','2026-11-27 01:29:59.490286');
INSERT INTO "revision" VALUES(3,'sf40jn98keup',1,'the other way','{"format":"fishplate-case/2","title":"the other way","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the axilla (the pocket between plate and corner), then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","side":"left","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"turn_deg":0.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","surface":"anterolateral","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','bc34ebc5edc928607b10aff89452a4bba9108d5652e9598fb1be57f225999bfd','Rename, otherwise','2026-11-27 01:29:59.494366');
INSERT INTO "revision" VALUES(4,'8rzs7t3emkau',NULL,'Hatch cover on the forearm: radius, transverse','{"format":"fishplate-case/2","title":"Hatch cover on the forearm: radius, transverse","note":"Invented for the demonstration: the small hospital above the fishing harbour. Transverse, so there is no room for a lag screw: the plate is bent a little over the fracture, or the far cortex opens.","bone_quality":"normal","constructs":[{"bone":{"name":"radius","side":null,"length_mm":null,"midshaft_depth_mm":null},"fracture":{"code":"2R2A3","lines":[{"position_mm":128.0,"obliquity_deg":5.0,"turn_deg":0.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"small-3.5","surface":null,"holes":6,"centre_mm":128.0,"standoff_mm":0.0,"prebend_mm":1.5},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','27ba0bd9a28ca33054686815f94f3d171c74118116d2109f1efafba53028440d','Copy of a sample case','2026-11-27 01:29:59.496750');
INSERT INTO "revision" VALUES(6,'hswn1hoew71o',NULL,'A copy','{"format":"fishplate-case/2","title":"A copy","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the axilla (the pocket between plate and corner), then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","side":"left","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"turn_deg":0.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","surface":"anterolateral","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','4470fcaa234aed00594b734c12c8a352f70bc0fe4580d70732614334f6933639','Duplicate of 骨折, Größe 5 µm','2026-11-27 01:29:59.509008');
INSERT INTO "revision" VALUES(7,'hswn1hoew71o',NULL,'left by undo','{"format":"fishplate-case/2","title":"left by undo","note":"Invented for the demonstration: the small hospital above the fishing harbour. A clean oblique line, two solid fragments. The obtuse side is fixed first; an eccentric screw draws the other one''s tip into the axilla (the pocket between plate and corner), then a lag screw through the plate holds both.","bone_quality":"normal","constructs":[{"bone":{"name":"humerus","side":"left","length_mm":305.0,"midshaft_depth_mm":21.0},"fracture":{"code":"12A2","lines":[{"position_mm":152.0,"obliquity_deg":48.0,"turn_deg":0.0,"zone_mm":0.0}],"gap_mm":0.0,"wedge":null},"principle":"compression","plate":{"series":"large-narrow-4.5","surface":"anterolateral","holes":9,"centre_mm":152.0,"standoff_mm":0.0,"prebend_mm":0.0},"holes":[{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"lag","tilt_deg":-25.0},{"role":"eccentric","tilt_deg":0.0},{"role":"empty","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0},{"role":"neutral","tilt_deg":0.0}],"lag_screws":[],"order":null}]}','f48d7d6963afe9ccfcf8216949ebaf69f565b4958b933addb29890ed15c6d68a','What-if of 骨折, Größe 5 µm','2026-11-27 01:29:59.511130');
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
INSERT INTO "whatif" VALUES(1,'sf40jn98keup',1,0,'As begun','2026-11-27 01:29:59.488173');
INSERT INTO "whatif" VALUES(2,'sf40jn98keup',2,0,'What-if 1','2026-11-27 01:29:59.491908');
INSERT INTO "whatif" VALUES(3,'hswn1hoew71o',6,0,'As begun','2026-11-27 01:29:59.510159');
INSERT INTO "whatif" VALUES(4,'hswn1hoew71o',7,0,'What-if 1','2026-11-27 01:29:59.511859');
CREATE TABLE write_key (
  scope VARCHAR(24) NOT NULL,
  "key" VARCHAR(100) NOT NULL,
  what VARCHAR(64) NOT NULL,
  document_id VARCHAR(24) NOT NULL,
  number INTEGER NOT NULL,
  revision_id INTEGER,
  created_at DATETIME NOT NULL,
  CONSTRAINT pk_write_key PRIMARY KEY (scope, "key")
)
  WITHOUT ROWID;
CREATE INDEX ix_document_updated_at ON document (updated_at);
CREATE INDEX ix_revision_document_id ON revision (document_id);
CREATE INDEX ix_revision_previous_id ON revision (previous_id);
CREATE INDEX ix_revision_content_hash ON revision (content_hash);
CREATE INDEX ix_whatif_revision_id ON whatif (revision_id);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('revision',7);
INSERT INTO "sqlite_sequence" VALUES('whatif',4);
COMMIT;
