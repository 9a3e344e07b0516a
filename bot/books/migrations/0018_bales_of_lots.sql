-- Bales of a cooperative's store in a lot for sale: of one grade and weight, with the days on which they were pressed, oldest
-- first. They leave the store on the day on which the lot is closed, and only then.
create table lot_bales (
    id text primary key,
    lot_id text not null references lots (id),
    cooperative_id text not null references cooperatives (id),
    kind text not null,
    bale_g {whole} not null check (bale_g > 0),
    pieces {whole} not null check (pieces > 0),
    pressed_first text not null,
    pressed_last text not null,
    added_at text not null,
    taken_out_at text,
    left_on text
) {strict};
create index lot_bales_of_lot on lot_bales (lot_id, id);
create index lot_bales_of_cooperative on lot_bales (cooperative_id, left_on);
