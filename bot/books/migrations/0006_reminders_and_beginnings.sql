-- Texts that make no sense after a moment, and what numbers that begin a farm by text have said so far.
alter table outbox add column not_after text;

create table beginnings (
    number text primary key,
    body text not null,
    expires_at text not null
) {strict};
create index beginnings_by_end on beginnings (expires_at);
