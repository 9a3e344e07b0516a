-- First lines of takes, which receipts are numbered by: counted without reading the lines of years.
create index entries_of_takes on entries (farm_id, id) where what = 'collected' and replaces is null;

-- What an alarm says besides its line, so that the operator can be texted in his own language.
alter table alarms add column figures text;

-- When an alarm was put into a text to the operators; no value for one that is not texted yet.
alter table alarms add column texted_at text;
create index alarms_not_texted on alarms (raised_at) where texted_at is null;

-- When something was last done over these books, by whatever process: a backup, a run of what is due.
create table last_done (
    what text primary key,
    at text not null,
    more text not null
) {strict};
