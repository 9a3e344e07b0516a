-- Lines in the order of their writing: what was entered since a settlement.
create index entries_by_writing on entries (farm_id, id);

-- What a farm's book had taught by the end of a day, so that only later lines are read. It can be worked out again from the
-- entries at any time; a line that changes an earlier day takes the row out. `lasting` rows end a month.
create table learned (
    farm_id text not null references farms (id),
    through text not null,
    basis text not null,
    lasting {whole} not null check (lasting in (0, 1)),
    chain text not null,
    rubber text not null,
    litres text not null,
    primary key (farm_id, through)
) {strict};
