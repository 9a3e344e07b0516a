-- Keys for books of many years, one standing role of a kind, and a row whose writing shows that the books can be written.
create index entries_by_kind on entries (farm_id, what, day);
create index outbox_by_time on outbox (created_at, id);
create unique index roles_standing on roles (person_id, farm_id, role) where until is null;

create table heartbeats (
    id text primary key,
    beats {whole} not null
) {strict};
