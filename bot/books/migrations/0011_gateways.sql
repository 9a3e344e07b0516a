-- Phones and modems that fetch texts: which one took a text, when it was delivered; and what they called with, against replay.
alter table outbox add column gateway text;
alter table outbox add column delivered_at text;

create table gateway_calls (
    gateway text not null,
    nonce text not null,
    called_at text not null,
    primary key (gateway, nonce)
) {strict};
create index gateway_calls_by_time on gateway_calls (called_at);
