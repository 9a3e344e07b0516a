-- What a farm's book taught last: a new mark whenever something is entered that changes what is to be expected.
create table lessons (
    farm_id text primary key references farms (id),
    mark text not null
) {strict};
