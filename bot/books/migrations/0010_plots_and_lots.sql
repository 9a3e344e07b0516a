-- Plots of land with their shapes, lots for sale and the receipts they are made of. What was taken up of a receipt stands in
-- one row, so that two lots can never hold the same gram.
alter table blocks add column square_metres {whole};

create table plots (
    id text primary key,
    farm_id text not null references farms (id),
    block_id text not null references blocks (id),
    name text not null,
    name_key text not null,
    shape text not null,
    square_metres {whole} not null check (square_metres > 0),
    added_at text not null,
    ended_at text
) {strict};
create unique index plots_standing on plots (farm_id, name_key) where ended_at is null;
create index plots_of_farm on plots (farm_id, ended_at);

create table lots (
    id text primary key,
    name text not null,
    name_key text not null unique,
    product text not null,
    buyer text not null,
    opened_at text not null,
    closed_at text,
    net_grams {whole},
    statement text
) {strict};

create table lot_takes (
    id text primary key,
    lot_id text not null references lots (id),
    farm_id text not null references farms (id),
    take_id text not null references entries (id),
    grams {whole} not null check (grams > 0),
    added_at text not null,
    taken_out_at text
) {strict};
create index lot_takes_of_lot on lot_takes (lot_id, id);
create index lot_takes_of_take on lot_takes (take_id);
create index lot_takes_of_farm on lot_takes (farm_id, id);

create table taken_up (
    take_id text primary key references entries (id),
    grams {whole} not null check (grams >= 0)
) {strict};

create table lot_unknowns (
    id text primary key,
    lot_id text not null references lots (id),
    grams {whole} not null check (grams > 0),
    note text not null,
    added_at text not null
) {strict};
create index lot_unknowns_of_lot on lot_unknowns (lot_id, id);
