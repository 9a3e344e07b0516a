-- First lines of takes, which receipts are numbered by: counted without reading the lines of years.
create index entries_of_takes on entries (farm_id, id) where what = 'collected' and replaces is null;
