-- The cooperative that a manager of several speaks of until he names another.
create table chosen_cooperatives (
    person_id text primary key references people (id),
    cooperative_id text not null references cooperatives (id),
    chosen_at text not null
) {strict};
