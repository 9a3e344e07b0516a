-- First lines of takes, which receipts are numbered by. SQLite took the unique key of `replaces` for them and so read the lines of
-- all farms: now that column is in this index, and nothing is asked for by its missing value.
drop index entries_of_takes;
create index entries_of_takes on entries (farm_id, id, replaces) where what = 'collected';
