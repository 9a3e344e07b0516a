-- Placeholders: {whole} a whole number of 64 bits, {strict} the suffix of strict tables.
create table farms (
    id text primary key,
    name text not null,
    name_key text not null unique,
    timezone text not null,
    currency text not null,
    language text not null,
    created_at text not null
) {strict};

create table other_farms (
    farm_id text not null references farms (id),
    name text not null,
    name_key text not null,
    primary key (farm_id, name_key)
) {strict};

create table farm_settings (
    id text primary key,
    farm_id text not null references farms (id),
    name text not null,
    value text not null,
    set_at text not null,
    message_id text
) {strict};
create index farm_settings_newest on farm_settings (farm_id, name, set_at, id);

create table blocks (
    id text primary key,
    farm_id text not null references farms (id),
    name text not null,
    name_key text not null,
    position {whole} not null,
    trees {whole},
    usual_ml {whole},
    unique (farm_id, name_key)
) {strict};

create table containers (
    id text primary key,
    farm_id text not null references farms (id),
    name text not null,
    name_key text not null,
    ml {whole} not null check (ml > 0),
    set_at text not null,
    message_id text
) {strict};
create index containers_newest on containers (farm_id, name_key, set_at, id);

create table people (
    id text primary key,
    number text not null unique,
    name text not null,
    language text not null,
    created_at text not null,
    opted_out_at text,
    blocked_at text
) {strict};

create table roles (
    id text primary key,
    person_id text not null references people (id),
    farm_id text not null references farms (id),
    role text not null check (role in ('tapper', 'owner', 'collector')),
    blocks text not null,
    since text not null,
    until text,
    message_id text
) {strict};
create index roles_of_person on roles (person_id, until);
create index roles_at_farm on roles (farm_id, until);

create table points (
    id text primary key,
    name text not null,
    name_key text not null unique
) {strict};

create table point_farms (
    point_id text not null references points (id),
    farm_id text not null references farms (id),
    primary key (point_id, farm_id)
) {strict};

create table messages (
    id text primary key,
    carrier text not null,
    number text not null,
    person_id text references people (id),
    body text not null,
    sent_at text not null,
    arrived_at text not null,
    kind text,
    reply text,
    parts {whole}
) {strict};
create index messages_by_number on messages (number, arrived_at);
create index messages_by_arrival on messages (arrived_at);

create table entries (
    id text primary key,
    farm_id text not null references farms (id),
    message_id text not null references messages (id),
    by_person text not null references people (id),
    via text,
    what text not null,
    day text,
    block text,
    ml {whole},
    grams {whole},
    drc_hundredths {whole},
    rain {whole} not null check (rain in (0, 1)),
    late {whole} not null check (late in (0, 1)),
    again {whole} not null check (again in (0, 1)),
    reason text,
    pieces {whole},
    sheets {whole},
    taken_from text,
    grade text,
    price_ten_thousandths {whole},
    place text,
    entered_at text not null,
    replaces text unique references entries (id),
    removed {whole} not null check (removed in (0, 1)),
    confirmed {whole} not null check (confirmed in (0, 1)),
    computed text
) {strict};
create index entries_by_day on entries (farm_id, day);
create index entries_by_message on entries (message_id);
create index entries_by_person on entries (by_person, entered_at);

create table questions (
    id text primary key,
    person_id text not null references people (id),
    farm_id text not null references farms (id),
    message_id text not null references messages (id),
    body text not null,
    asked_at text not null,
    expires_at text not null,
    closed_at text,
    outcome text
) {strict};
create index questions_open on questions (person_id, closed_at);

create table outbox (
    id text primary key,
    number text not null,
    body text not null,
    parts {whole} not null,
    because text,
    dedupe_key text unique,
    state text not null check (state in ('new', 'sending', 'sent', 'failed', 'unsure')),
    attempts {whole} not null,
    created_at text not null,
    due_at text not null,
    changed_at text not null,
    carrier_id text,
    error_code text
) {strict};
create index outbox_waiting on outbox (state, due_at, id);
create index outbox_because on outbox (because);
