-- Bark left on the panel that is tapped, as somebody measured it: down to the panel's last cut, square to the ground.
create table bark (
    id text primary key,
    farm_id text not null references farms (id),
    block text not null,
    panel text,
    day text not null,
    mm {whole} not null check (mm >= 0),
    person_id text not null references people (id),
    message_id text references messages (id),
    at text not null
) {strict};
create index bark_of_farm on bark (farm_id, day);
create index bark_of_person on bark (person_id);
