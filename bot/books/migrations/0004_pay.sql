-- What work is paid: terms by person and date, advances and deductions, and settlements that were confirmed.
create table pay_terms (
    id text primary key,
    farm_id text not null references farms (id),
    person_id text references people (id),
    since text not null,
    terms text not null,
    set_at text not null,
    message_id text
) {strict};
create index pay_terms_of_farm on pay_terms (farm_id, since, id);

create table money_lines (
    id text primary key,
    farm_id text not null references farms (id),
    person_id text not null references people (id),
    day text not null,
    kind text not null check (kind in ('advance', 'deduction', 'bonus')),
    ten_thousandths {whole} not null check (ten_thousandths > 0),
    note text not null,
    entered_at text not null,
    message_id text,
    taken_back_at text
) {strict};
create index money_lines_of_person on money_lines (farm_id, person_id, day);

create table settlements (
    id text primary key,
    farm_id text not null references farms (id),
    person_id text not null references people (id),
    first_day text not null,
    last_day text not null,
    slip text not null,
    earned_ten_thousandths {whole} not null,
    recovered_ten_thousandths {whole} not null,
    paid_ten_thousandths {whole} not null,
    owed_ten_thousandths {whole} not null,
    confirmed_at text not null,
    message_id text,
    unique (farm_id, person_id, first_day)
) {strict};
