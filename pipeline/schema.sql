-- The store of one matter. Everything here can be made again from responses/ and
-- decisions.jsonl. Primary keys only: DuckDB refuses delete-child-then-parent in one
-- transaction under foreign keys, and scans beat secondary indexes at this size.

CREATE TABLE meta (version INTEGER NOT NULL);

CREATE TABLE run (
    run_id      VARCHAR PRIMARY KEY,  -- 2026-11-25T02:00:00Z
    started_at  TIMESTAMP NOT NULL,   -- UTC, as are all timestamps
    ended_at    TIMESTAMP,
    outcome     VARCHAR               -- complete, incomplete, failed; NULL while it runs
);

-- The search log: one row per run, source and sweep.
CREATE TABLE search (
    run_id       VARCHAR NOT NULL,
    source       VARCHAR NOT NULL,
    sweep        VARCHAR NOT NULL,    -- its name
    expression   VARCHAR NOT NULL,    -- in words
    asked_at     TIMESTAMP,
    outcome      VARCHAR NOT NULL,    -- complete, incomplete, failed, skipped
    reason       VARCHAR NOT NULL,
    requests     INTEGER NOT NULL,
    stated_total BIGINT,
    total_is_floor BOOLEAN NOT NULL,
    items        INTEGER NOT NULL,    -- = records + quarantined
    records      INTEGER NOT NULL,
    quarantined  INTEGER NOT NULL,
    waited_s     DOUBLE NOT NULL,
    PRIMARY KEY (run_id, source, sweep)
);

-- One row per answer received, in the order received; body by hash in responses/.
CREATE TABLE response (
    seq         BIGINT PRIMARY KEY,
    run_id      VARCHAR NOT NULL,
    source      VARCHAR NOT NULL,
    sweep       VARCHAR NOT NULL,
    request     VARCHAR NOT NULL,     -- as sent, without secrets
    status      INTEGER NOT NULL,
    received_at TIMESTAMP NOT NULL,
    body_sha256 VARCHAR NOT NULL,
    size_bytes  BIGINT NOT NULL,
    items       INTEGER NOT NULL,
    records     INTEGER NOT NULL,
    quarantined INTEGER NOT NULL
);

CREATE TABLE quarantine (
    response_seq BIGINT NOT NULL,
    item         INTEGER NOT NULL,
    path         VARCHAR NOT NULL,
    reason       VARCHAR NOT NULL,
    excerpt      VARCHAR NOT NULL,
    PRIMARY KEY (response_seq, item)
);

-- What a source states about one document; the latest statement stands.
CREATE TABLE record (
    record_id    VARCHAR PRIMARY KEY, -- from source and native_id
    seq          BIGINT NOT NULL,     -- order of first arrival; gives references their id
    source       VARCHAR NOT NULL,
    native_id    VARCHAR NOT NULL,
    response_seq BIGINT NOT NULL,     -- the answer this statement stands in
    item         INTEGER NOT NULL,
    first_run    VARCHAR NOT NULL,
    content      VARCHAR NOT NULL,    -- hash of all the source states, to see changes
    kind         VARCHAR NOT NULL,
    title        VARCHAR NOT NULL,
    abstract     VARCHAR NOT NULL,
    language     VARCHAR NOT NULL,
    people       STRUCT(name VARCHAR, role VARCHAR, family VARCHAR, given VARCHAR)[] NOT NULL,
    venue        VARCHAR NOT NULL,
    publisher    VARCHAR NOT NULL,
    volume       VARCHAR NOT NULL,
    issue        VARCHAR NOT NULL,
    pages        VARCHAR NOT NULL,
    version      VARCHAR NOT NULL,
    url          VARCHAR NOT NULL,
    retracted    BOOLEAN NOT NULL,
    claims       VARCHAR[] NOT NULL,
    details      STRUCT(name VARCHAR, "text" VARCHAR)[] NOT NULL
);

CREATE TABLE identifier (
    record_id VARCHAR NOT NULL,
    scheme    VARCHAR NOT NULL,
    value     VARCHAR NOT NULL,       -- normal form
    match_key VARCHAR NOT NULL,       -- equal keys name the same thing
    "text"    VARCHAR NOT NULL,       -- as the source writes it
    problem   VARCHAR NOT NULL        -- why it is not in normal form, else ''
);

-- A day is an interval; first and last both count; NULL is open.
CREATE TABLE dated_event (
    record_id    VARCHAR NOT NULL,
    event        INTEGER NOT NULL,
    kind         VARCHAR NOT NULL,
    day_from     DATE,
    day_to       DATE,
    "text"       VARCHAR NOT NULL,
    field        VARCHAR NOT NULL,
    note         VARCHAR NOT NULL,
    public       BOOLEAN NOT NULL,
    response_seq BIGINT NOT NULL,     -- the latest answer that states it
    stands       BOOLEAN NOT NULL,    -- FALSE: stated once, no longer
    PRIMARY KEY (record_id, event)
);

CREATE TABLE relation (
    record_id VARCHAR NOT NULL,
    kind      VARCHAR NOT NULL,
    scheme    VARCHAR NOT NULL,
    value     VARCHAR NOT NULL,
    match_key VARCHAR NOT NULL,
    "text"    VARCHAR NOT NULL,
    note      VARCHAR NOT NULL
);

CREATE TABLE class_code (
    record_id VARCHAR NOT NULL,
    scheme    VARCHAR NOT NULL,
    symbol    VARCHAR NOT NULL
);

-- Which sweep brought which record. within: the expression holds on title, abstract and
-- codes ('yes', 'no', 'unknown' where there is too little text to tell, 'look-up' where it
-- was fetched because of another record). inside: FALSE where a source that only ranks
-- brought something the expression does not hold for; kept, but not made a reference.
CREATE TABLE found (
    record_id VARCHAR NOT NULL,
    source    VARCHAR NOT NULL,
    sweep     VARCHAR NOT NULL,
    run_id    VARCHAR NOT NULL,       -- the first that found it so
    within    VARCHAR NOT NULL,
    inside    BOOLEAN NOT NULL,
    PRIMARY KEY (record_id, sweep)
);

-- Records whose links must be worked out (again): new, changed, or embedded since; each once.
-- Without a key: DuckDB 2.0.1 takes rows out of one by one, which costs more than resolving them.
CREATE TABLE unresolved (record_id VARCHAR NOT NULL);

-- What each record inside can be found by: see resolve/keys.py, whose changes need a new VERSION.
CREATE TABLE block (
    key  BIGINT NOT NULL,
    seq  BIGINT NOT NULL,             -- the record's
    says TINYINT NOT NULL             -- 0 a number, 1 a whole title, place or direction, 2 rare words
);

-- Two records judged one document or one work, with the reason in words.
CREATE TABLE link (
    record_a VARCHAR NOT NULL,        -- record_a < record_b
    record_b VARCHAR NOT NULL,
    same     VARCHAR NOT NULL,        -- document, work
    reason   VARCHAR NOT NULL,
    score    DOUBLE NOT NULL,         -- 1 for identifiers and stated relations
    PRIMARY KEY (record_a, record_b)
);

-- A reference's id is the id of its first-seen record, so every id ever shown stays good.
CREATE TABLE membership (
    record_id    VARCHAR PRIMARY KEY,
    reference_id VARCHAR NOT NULL,
    version_id   VARCHAR NOT NULL,    -- first-seen record of the same document
    reason       VARCHAR NOT NULL,
    score        DOUBLE NOT NULL
);

CREATE TABLE reference (
    reference_id VARCHAR PRIMARY KEY,
    title        VARCHAR NOT NULL,
    kind         VARCHAR NOT NULL,
    main_record  VARCHAR NOT NULL,    -- whose text is shown
    public_from  DATE,                -- the earliest public day lies in [from, to]
    public_to    DATE,
    public_record VARCHAR,            -- whose event says so
    public_event INTEGER,
    first_run    VARCHAR NOT NULL
);

-- Texts compared with the invention, of each reference's main and earliest records.
CREATE TABLE passage (
    reference_id VARCHAR NOT NULL,
    passage      INTEGER NOT NULL,
    field        VARCHAR NOT NULL,    -- title, abstract, claim 3
    "text"       VARCHAR NOT NULL,
    PRIMARY KEY (reference_id, passage)
);

CREATE TABLE embedding (
    text_sha256 VARCHAR NOT NULL,
    model       VARCHAR NOT NULL,
    vector      FLOAT[] NOT NULL,
    PRIMARY KEY (text_sha256, model)
);

CREATE TABLE score (
    reference_id VARCHAR PRIMARY KEY,
    place        INTEGER NOT NULL,    -- 1 is best
    score        DOUBLE NOT NULL,
    words        DOUBLE NOT NULL,
    meaning      DOUBLE               -- NULL until embedded
);

CREATE TABLE element_match (
    reference_id VARCHAR NOT NULL,
    element      VARCHAR NOT NULL,
    closeness    DOUBLE NOT NULL,     -- 0..1
    passage      INTEGER,
    PRIMARY KEY (reference_id, element)
);

CREATE TABLE topic (
    topic_id INTEGER PRIMARY KEY,
    terms    VARCHAR NOT NULL,
    size     INTEGER NOT NULL
);

CREATE TABLE topic_member (
    reference_id VARCHAR PRIMARY KEY,
    topic_id     INTEGER NOT NULL
);

-- Sweeps by number: of what kind (known, about, cited, citing), and of whose reference.
CREATE TABLE number_sweep (
    source    VARCHAR NOT NULL,
    sweep     VARCHAR NOT NULL,
    kind      VARCHAR NOT NULL,
    record_id VARCHAR NOT NULL,       -- '' for the known references
    PRIMARY KEY (source, sweep)
);

CREATE TABLE watermark (
    source       VARCHAR NOT NULL,
    expression   VARCHAR NOT NULL,
    completed_at TIMESTAMP NOT NULL,
    PRIMARY KEY (source, expression)
);

-- The decisions file, read into a table; decision is its line.
CREATE TABLE decision (
    decision  BIGINT PRIMARY KEY,
    made_at   TIMESTAMP NOT NULL,
    made_by   VARCHAR NOT NULL,
    kind      VARCHAR NOT NULL,       -- tag, ruling, date, undo
    record_id VARCHAR NOT NULL,
    facts     JSON NOT NULL
);
