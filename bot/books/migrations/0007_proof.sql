-- A second proof beside the caller's number: PINs as salted hashes, with the tries of a day. Alarms that the operator is to
-- hear of once. Texts out are found by their number, for one that is blocked or forgotten.
create table pins (
    person_id text primary key references people (id),
    hash text,
    set_at text,
    tries {whole} not null,
    tries_since text not null,
    blocked_at text,
    hinted_at text
) {strict};

create table alarms (
    id text primary key,
    number text not null,
    kind text not null,
    day text not null,
    line text not null,
    raised_at text not null,
    told_at text,
    unique (number, kind, day)
) {strict};
create index alarms_untold on alarms (told_at, id);

create index outbox_to on outbox (number, created_at, id);
