-- What a cooperative takes off its growers' money, its levy, and pay-outs that were closed. A receipt whose money may have
-- changed since the last pay-out is open: its first line, and the newest in its place. A line of money belongs to the pay-out
-- that took it off.
create table open_receipts (
    entry_id text primary key references entries (id),
    newest_id text not null references entries (id),
    cooperative_id text not null references cooperatives (id),
    farm_id text not null references farms (id)
) {strict};
create index open_receipts_of_farm on open_receipts (cooperative_id, farm_id);
insert into open_receipts (entry_id, newest_id, cooperative_id, farm_id)
with recursive chain (first_id, id) as (
    select r.entry_id, r.entry_id from receipts r
    union all
    select chain.first_id, e.id from chain join entries e on e.replaces = chain.id
)
select r.entry_id, chain.id, r.cooperative_id, e.farm_id
from chain join receipts r on r.entry_id = chain.first_id join entries e on e.id = chain.id
where not exists (select 1 from entries later where later.replaces = chain.id);

create table payouts (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    farm_id text not null references farms (id),
    number {whole} not null,
    day text not null,
    slip text not null,
    receipts_ten_thousandths {whole} not null,
    levy_ten_thousandths {whole} not null,
    deductions_ten_thousandths {whole} not null,
    brought_ten_thousandths {whole} not null check (brought_ten_thousandths >= 0),
    paid_ten_thousandths {whole} not null check (paid_ten_thousandths >= 0),
    carried_ten_thousandths {whole} not null check (carried_ten_thousandths >= 0),
    closed_at text not null,
    message_id text not null references messages (id),
    unique (cooperative_id, number)
) {strict};
create index payouts_of_farm on payouts (farm_id, cooperative_id, number);

create table payout_receipts (
    payout_id text not null references payouts (id),
    entry_id text not null references entries (id),
    ten_thousandths {whole} not null,
    primary key (payout_id, entry_id)
) {strict};
create index payouts_of_receipt on payout_receipts (entry_id);

create table grower_money (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    farm_id text not null references farms (id),
    day text not null,
    kind text not null check (kind in ('advance', 'acid', 'tools', 'deduction', 'taken back')),
    ten_thousandths {whole} not null check (ten_thousandths > 0),
    note text not null,
    entered_at text not null,
    message_id text not null references messages (id),
    taken_back_at text,
    payout_id text references payouts (id)
) {strict};
create index grower_money_open on grower_money (cooperative_id, payout_id, farm_id);

create table levies (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    since text not null,
    hundredths {whole} not null check (hundredths between 0 and 10000),
    set_at text not null,
    message_id text not null references messages (id)
) {strict};
create index levies_of_cooperative on levies (cooperative_id, since, id);

-- A manager's change that waits for his PIN.
create table office_waiting (
    person_id text primary key references people (id),
    cooperative_id text not null references cooperatives (id),
    message_id text not null references messages (id),
    words text not null,
    new_pin text,
    expires_at text not null
) {strict};

-- Sheets pressed into bales (fewer than nothing where a pressing was taken back), bales that left the store, and what was
-- counted there against the books. A weight of a bale marks what is told of bales; grams are those of all of them.
alter table cooperatives add column bale_g {whole};
alter table store_out add column bale_g {whole};

create table bales (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    day text not null,
    kind text not null,
    bale_g {whole} not null check (bale_g > 0),
    pieces {whole} not null check (pieces <> 0),
    entered_at text not null,
    message_id text not null references messages (id)
) {strict};
create index bales_by_day on bales (cooperative_id, day);

create table store_counts (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    day text not null,
    kind text not null,
    bale_g {whole},
    expected_g {whole} not null,
    grams {whole} not null check (grams >= 0),
    entered_at text not null,
    message_id text not null references messages (id)
) {strict};
create index store_counts_by_day on store_counts (cooperative_id, day);

-- Visits of collectors at farms where they met nobody; nothing was taken.
create table empty_visits (
    id text primary key,
    cooperative_id text not null references cooperatives (id),
    farm_id text not null references farms (id),
    person_id text not null references people (id),
    day text not null,
    at text not null,
    message_id text not null references messages (id),
    withdrawn_at text
) {strict};
create index empty_visits_by_day on empty_visits (cooperative_id, day);
create unique index empty_visits_standing on empty_visits (farm_id, person_id, day) where withdrawn_at is null;

-- Numbers of receipts that a farm gave itself after a cooperative had given it some, so that no number comes twice; and the
-- highest that a farm has, with the cooperative that gave it.
create table own_receipts (
    entry_id text primary key references entries (id),
    farm_id text not null references farms (id),
    number {whole} not null,
    unique (farm_id, number)
) {strict};

create table receipt_marks (
    farm_id text primary key references farms (id),
    cooperative_id text references cooperatives (id),
    highest {whole} not null
) {strict};
