CREATE TABLE sessions (
    id INTEGER PRIMARY KEY,
    begun_at_ms INTEGER NOT NULL,
    ended_at_ms INTEGER,
    zone_hours INTEGER,
    program TEXT NOT NULL
) STRICT;
CREATE INDEX sessions_begun ON sessions (begun_at_ms);

CREATE TABLE settings (
    id INTEGER PRIMARY KEY,
    toml TEXT NOT NULL,
    kite TEXT,
    kite_area_m2 REAL NOT NULL
) STRICT;
CREATE TABLE settings_in_force (
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    from_ms INTEGER NOT NULL,
    settings_id INTEGER NOT NULL REFERENCES settings,
    PRIMARY KEY (session_id, from_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE entries (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    feed TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    word TEXT NOT NULL,
    sentence TEXT NOT NULL,
    counted INTEGER NOT NULL,
    taken_back_at_ms INTEGER
) STRICT;
CREATE INDEX entries_at ON entries (session_id, at_ms);

CREATE TABLE line_moves (
    entry_id INTEGER PRIMARY KEY REFERENCES entries ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    line TEXT NOT NULL,
    by_m REAL NOT NULL,
    asked_by TEXT,
    asked_revision INTEGER
) STRICT;

CREATE TABLE reports (
    entry_id INTEGER PRIMARY KEY REFERENCES entries ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    what TEXT NOT NULL,
    bait TEXT,
    kite_line_m REAL,
    main_line_m REAL,
    elevation_deg REAL,
    off_astern_deg REAL,
    marker_in_water INTEGER,
    turn_by_deg REAL,
    turn_rate_deg_s REAL,
    turn_in_s REAL,
    answer TEXT,
    asked_by TEXT,
    asked_revision INTEGER
) STRICT;

CREATE TABLE bites (
    entry_id INTEGER PRIMARY KEY REFERENCES entries ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    result TEXT,
    result_at_ms INTEGER,
    boat_at_ms INTEGER,
    latitude_deg REAL,
    longitude_deg REAL,
    heading_deg_true REAL,
    speed_water_mps REAL,
    speed_ground_mps REAL,
    course_deg_true REAL,
    wind_at_sensor_mps REAL,
    wind_from_deg_true REAL,
    kite_line_m REAL,
    main_line_m REAL,
    bait_told TEXT,
    rig_at_ms INTEGER,
    bait TEXT,
    kite_elevation_deg REAL,
    kite_off_astern_deg REAL,
    immersion REAL,
    bait_astern_m REAL,
    bait_starboard_m REAL
) STRICT;
CREATE INDEX bites_at ON bites (at_ms);

CREATE TABLE states (
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    latitude_deg REAL,
    longitude_deg REAL,
    heading_deg_true REAL,
    rate_of_turn_deg_s REAL,
    speed_water_mps REAL,
    speed_ground_mps REAL,
    course_deg_true REAL,
    wind_at_sensor_mps REAL,
    wind_from_deg_true REAL,
    kite_line_m REAL,
    main_line_m REAL,
    doing TEXT NOT NULL,
    bait TEXT,
    bait_told TEXT,
    kite_elevation_deg REAL,
    kite_off_astern_deg REAL,
    immersion REAL,
    bait_astern_m REAL,
    bait_starboard_m REAL,
    PRIMARY KEY (session_id, at_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE spans (
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    from_ms INTEGER NOT NULL,
    to_ms INTEGER NOT NULL,
    doing TEXT NOT NULL,
    bait TEXT,
    point_of_sail TEXT,
    tack TEXT,
    PRIMARY KEY (session_id, from_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE advisories (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    advisory TEXT NOT NULL,
    kind TEXT NOT NULL,
    raised_at_ms INTEGER NOT NULL,
    ended_at_ms INTEGER,
    outcome TEXT,
    UNIQUE (session_id, advisory)
) STRICT;

CREATE TABLE advisory_revisions (
    advisory_id INTEGER NOT NULL REFERENCES advisories ON DELETE CASCADE,
    revision INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    priority TEXT NOT NULL,
    onset_at_ms INTEGER,
    unwatched_since_ms INTEGER,
    outcome TEXT,
    chance REAL,
    chance_with_plan REAL,
    asks_line TEXT,
    asks_by_m REAL,
    title TEXT NOT NULL,
    cause TEXT NOT NULL,
    PRIMARY KEY (advisory_id, revision)
) STRICT, WITHOUT ROWID;

CREATE TABLE chances (
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    trouble TEXT NOT NULL,
    made_at_ms INTEGER NOT NULL,
    forecasts INTEGER NOT NULL,
    horizon_s REAL NOT NULL,
    chance REAL NOT NULL,
    so_now REAL NOT NULL,
    onset_p10_s REAL,
    onset_p50_s REAL,
    onset_p90_s REAL,
    PRIMARY KEY (session_id, trouble, made_at_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE instrument_troubles (
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    quantity TEXT NOT NULL,
    from_ms INTEGER NOT NULL,
    to_ms INTEGER,
    why TEXT NOT NULL,
    PRIMARY KEY (session_id, quantity, from_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE learnt (
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    at_ms INTEGER NOT NULL,
    about TEXT NOT NULL,
    off REAL NOT NULL,
    sd REAL NOT NULL,
    sd_before REAL NOT NULL,
    reports INTEGER NOT NULL,
    last_report_at_ms INTEGER NOT NULL,
    PRIMARY KEY (session_id, at_ms, about)
) STRICT, WITHOUT ROWID;

CREATE TABLE mark_changes (
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    number INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    event TEXT NOT NULL,
    marked_at_ms INTEGER NOT NULL,
    source TEXT NOT NULL,
    name TEXT,
    as_of_ms INTEGER NOT NULL,
    latitude_deg REAL,
    longitude_deg REAL,
    set_deg_true REAL,
    drift_mps REAL,
    sigma_m REAL NOT NULL,
    PRIMARY KEY (session_id, number, at_ms, event)
) STRICT, WITHOUT ROWID;

CREATE TABLE passes (
    session_id INTEGER NOT NULL REFERENCES sessions ON DELETE CASCADE,
    mark INTEGER NOT NULL,
    offered_at_ms INTEGER NOT NULL,
    number INTEGER NOT NULL,
    chance REAL NOT NULL,
    chance_of_marked REAL NOT NULL,
    closest_foreseen_m REAL NOT NULL,
    accepted_at_ms INTEGER,
    ended_at_ms INTEGER,
    ended TEXT,
    closest_m REAL,
    closest_at_ms INTEGER,
    skipping_share REAL,
    PRIMARY KEY (session_id, mark, offered_at_ms)
) STRICT, WITHOUT ROWID;
