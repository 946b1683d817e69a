CREATE TABLE alembic_version (
  version_num VARCHAR(32) NOT NULL,
  CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
CREATE TABLE document (
  id VARCHAR(24) NOT NULL,
  version INTEGER NOT NULL,
  head_id INTEGER NOT NULL,
  created_at DATETIME NOT NULL,
  updated_at DATETIME NOT NULL, pins INTEGER DEFAULT '0' NOT NULL,
  CONSTRAINT pk_document PRIMARY KEY (id),
  CONSTRAINT fk_document_head_id FOREIGN KEY(head_id) REFERENCES revision (id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX ix_document_updated_at ON document (updated_at);
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
CREATE INDEX ix_whatif_revision_id ON whatif (revision_id);
CREATE TABLE secret (
  name VARCHAR(32) NOT NULL,
  value BLOB NOT NULL,
  CONSTRAINT pk_secret PRIMARY KEY (name)
);
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
CREATE TABLE content (
  document_id VARCHAR(24) NOT NULL,
  hash BLOB NOT NULL,
  packed BLOB NOT NULL,
  CONSTRAINT pk_content PRIMARY KEY (document_id, hash),
  CONSTRAINT fk_content_document_id FOREIGN KEY(document_id) REFERENCES document (id) ON DELETE CASCADE
)
  WITHOUT ROWID;
CREATE TABLE "revision" (
  id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  document_id VARCHAR(24) NOT NULL,
  previous_id INTEGER,
  title TEXT NOT NULL,
  content_hash BLOB NOT NULL,
  label TEXT NOT NULL,
  created_at DATETIME NOT NULL,
  CONSTRAINT fk_revision_document_id FOREIGN KEY(document_id) REFERENCES document (id) ON DELETE CASCADE,
  CONSTRAINT fk_revision_previous_id FOREIGN KEY(previous_id) REFERENCES revision (id),
  CONSTRAINT fk_revision_content_hash FOREIGN KEY(document_id, content_hash) REFERENCES content (document_id, hash) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX ix_revision_document_id ON revision (document_id);
CREATE INDEX ix_revision_previous_id ON revision (previous_id);
CREATE INDEX ix_revision_content_hash ON revision (content_hash);
CREATE TABLE listed (
  document_id VARCHAR(24) NOT NULL,
  title TEXT NOT NULL,
  bones TEXT NOT NULL,
  sought TEXT NOT NULL,
  title_key BLOB NOT NULL,
  bone_key BLOB NOT NULL,
  CONSTRAINT pk_listed PRIMARY KEY (document_id),
  CONSTRAINT fk_listed_document_id FOREIGN KEY(document_id) REFERENCES document (id) ON DELETE CASCADE
);
CREATE INDEX ix_listed_title_key ON listed (title_key);
CREATE INDEX ix_listed_bone_key ON listed (bone_key);
INSERT INTO alembic_version VALUES ('0006')
