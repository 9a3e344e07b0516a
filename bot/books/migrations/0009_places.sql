-- Cooperatives: their farms and managers, prices by day, places with a number and hours, rounds of collectors by weekday,
-- disputes over what was taken, and what left the store.
create table cooperatives (
    id text primary key,
    name text not null,
    name_key text not null unique,
    timezone text not null,
    currency text not null,
    language text not null,
    closing_hour {whole} not null,
    created_at text not null
) {strict};

create table cooperative_farms (
    farm_id text primary key references farms (id),
    cooperative_id text not null references cooperatives (id)
) {strict};
create index farms_of_cooperative on cooperative_farms (cooperative_id, farm_id);

create table managers (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    person_id text not null references people (id),
    since text not null,
    until text
) {strict};
create unique index managers_standing on managers (person_id, cooperative_id) where until is null;
create index managers_of_cooperative on managers (cooperative_id, until);

create table place_details (
    point_id text primary key references points (id),
    cooperative_id text not null references cooperatives (id),
    number {whole} not null,
    opens text,
    closes text,
    unique (cooperative_id, number)
) {strict};

create table round_stops (
    person_id text not null references people (id),
    weekday {whole} not null check (weekday between 0 and 6),
    point_id text not null references points (id),
    position {whole} not null,
    primary key (person_id, weekday, point_id)
) {strict};
create index round_stops_at_point on round_stops (point_id);

create table list_prices (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    day text not null,
    kind text not null,
    ten_thousandths {whole} not null check (ten_thousandths > 0),
    set_at text not null,
    message_id text
) {strict};
create index list_prices_newest on list_prices (cooperative_id, kind, day, id);

create table disputes (
    id text primary key,
    entry_id text not null references entries (id),
    farm_id text not null references farms (id),
    by_person text not null references people (id),
    message_id text not null references messages (id),
    said text not null,
    grams {whole},
    raised_at text not null,
    settled_at text,
    settled_by text references people (id),
    outcome text
) {strict};
create index disputes_of_farm on disputes (farm_id, settled_at);
create index disputes_of_person on disputes (by_person, raised_at);
create index disputes_of_entry on disputes (entry_id, settled_at);

create table store_out (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    day text not null,
    kind text not null,
    grams {whole} not null check (grams > 0),
    entered_at text not null,
    message_id text not null references messages (id)
) {strict};
create index store_out_by_day on store_out (cooperative_id, day);

create table takes (
    entry_id text primary key references entries (id),
    farm_id text not null references farms (id),
    kind text not null,
    paid_g {whole} not null,
    ten_thousandths {whole},
    notes text not null
) {strict};
create index takes_of_farm on takes (farm_id, entry_id);

create table receipt_counters (
    cooperative_id text primary key references cooperatives (id),
    newest {whole} not null
) {strict};

create table receipts (
    entry_id text primary key references entries (id),
    cooperative_id text not null references cooperatives (id),
    number {whole} not null,
    unique (cooperative_id, number)
) {strict};
