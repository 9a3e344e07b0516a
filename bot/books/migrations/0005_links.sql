-- Links to pages that were made before a moment open nothing any more.
create table link_cuts (
    person_id text primary key references people (id),
    since text not null
) {strict};
