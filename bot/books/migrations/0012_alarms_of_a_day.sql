-- Alarms of a day are counted by a key.
create index alarms_by_day on alarms (day, kind);
