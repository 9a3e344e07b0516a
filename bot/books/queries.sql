-- Every statement of the books, once, for both engines. `-- name:` then a line of purpose, then the statement.
-- Rules: named parameters only, no literals with a colon or a percent sign, no engine's own functions.

-- name: ping
-- Whether the books can be read.
select count(*) as farms from farms;

-- name: beat
-- Whether the books can be written: counts how often they were asked.
insert into heartbeats (id, beats) values (:id, 1)
on conflict (id) do update set beats = heartbeats.beats + 1;

-- name: beats
-- How often something was done.
select beats from heartbeats where id = :id;

-- name: add_farm
-- A new farm.
insert into farms (id, name, name_key, timezone, currency, language, created_at)
values (:id, :name, :name_key, :timezone, :currency, :language, :created_at);

-- name: farm
-- A farm by its id.
select * from farms where id = :id;

-- name: farm_named
-- A farm by its folded name.
select * from farms where name_key = :name_key;

-- name: all_farms
-- All farms in the order in which they were added.
select * from farms order by id;

-- name: add_other_farm
-- A farm without a book here that the collectors of this one visit too.
insert into other_farms (farm_id, name, name_key) values (:farm_id, :name, :name_key)
on conflict (farm_id, name_key) do nothing;

-- name: other_farms
-- The farms without a book here that are visited too.
select name from other_farms where farm_id = :farm_id order by name_key;

-- name: add_setting
-- A setting of a farm from a moment on.
insert into farm_settings (id, farm_id, name, value, set_at, message_id)
values (:id, :farm_id, :name, :value, :set_at, :message_id);

-- name: settings_history
-- Every setting that a farm ever had, oldest first.
select * from farm_settings where farm_id = :farm_id order by set_at, id;

-- name: add_block
-- A block of a farm.
insert into blocks (id, farm_id, name, name_key, position, trees, usual_ml)
values (:id, :farm_id, :name, :name_key, :position, :trees, :usual_ml);

-- name: blocks
-- The blocks of a farm in their order.
select * from blocks where farm_id = :farm_id order by position;

-- name: add_container
-- What a container holds, from a moment on.
insert into containers (id, farm_id, name, name_key, ml, set_at, message_id)
values (:id, :farm_id, :name, :name_key, :ml, :set_at, :message_id);

-- name: containers
-- Containers of a farm with every size they ever had, oldest first.
select * from containers where farm_id = :farm_id order by set_at, id;

-- name: add_point
-- A collection point, or the one that has the name already.
insert into points (id, name, name_key) values (:id, :name, :name_key)
on conflict (name_key) do update set name_key = excluded.name_key
returning id;

-- name: add_point_farm
-- A farm that brings to a collection point.
insert into point_farms (point_id, farm_id) values (:point_id, :farm_id)
on conflict (point_id, farm_id) do nothing;

-- name: points
-- All collection points with the farms that bring to them.
select p.id, p.name, p.name_key, f.farm_id
from points p left join point_farms f on f.point_id = p.id
order by p.name_key, f.farm_id;

-- name: person_by_number
-- Somebody by his phone.
select * from people where number = :number;

-- name: person
-- Somebody by id.
select * from people where id = :id;

-- name: enrol_person
-- Somebody new, or somebody known by a new name and language; his id either way.
insert into people (id, number, name, language, created_at, opted_out_at, blocked_at)
values (:id, :number, :name, :language, :created_at, null, null)
on conflict (number) do update set name = excluded.name, language = excluded.language
returning *;

-- name: change_person
-- A person's name and language.
update people set name = :name, language = :language where id = :id;

-- name: set_opted_out
-- Since when somebody wants no texts; null for one who does.
update people set opted_out_at = :at where id = :id;

-- name: set_blocked
-- Since when a number may do nothing; null for one that may.
update people set blocked_at = :at where id = :id;

-- name: add_role
-- A role of somebody at a farm from a moment on.
insert into roles (id, person_id, farm_id, role, blocks, since, until, message_id)
values (:id, :person_id, :farm_id, :role, :blocks, :since, null, :message_id);

-- name: end_role
-- A role ends.
update roles set until = :at
where person_id = :person_id and farm_id = :farm_id and role = :role and until is null;

-- name: end_roles
-- All roles of somebody at a farm end.
update roles set until = :at
where person_id = :person_id and farm_id = :farm_id and until is null;

-- name: memberships
-- What somebody is, and where.
select r.farm_id, r.role, r.blocks, p.*
from roles r join people p on p.id = r.person_id
where r.person_id = :person_id and r.until is null
order by r.id;

-- name: members
-- Everybody of a farm.
select r.farm_id, r.role, r.blocks, p.*
from roles r join people p on p.id = r.person_id
where r.farm_id = :farm_id and r.until is null
order by r.id;

-- name: roles_at_farm
-- The roles of one kind at a farm, now and before, of each person the newest first.
select person_id, since, until from roles where farm_id = :farm_id and role = :role order by person_id, since desc, id desc;
-- name: left_farm
-- Who had a role at a farm and has none now.
select p.* from people p where p.id in (
    select r.person_id from roles r where r.farm_id = :farm_id and r.until is not null
) and not exists (
    select 1 from roles n where n.person_id = p.id and n.farm_id = :farm_id and n.until is null
) order by p.id;
-- name: former_tappers
-- Who was a tapper of a farm and is none now.
select r.farm_id, r.role, r.blocks, p.*
from roles r join people p on p.id = r.person_id
where r.farm_id = :farm_id and r.role = 'tapper' and r.until is not null
  and not exists (
    select 1 from roles n
    where n.person_id = r.person_id and n.farm_id = r.farm_id and n.role = 'tapper' and n.until is null
  )
order by r.id;

-- name: all_members
-- Everybody of every farm.
select r.farm_id, r.role, r.blocks, p.*
from roles r join people p on p.id = r.person_id
where r.until is null
order by r.farm_id, r.id;

-- name: all_owners
-- Every owner of every farm.
select r.farm_id, r.role, r.blocks, p.*
from roles r join people p on p.id = r.person_id
where r.role = 'owner' and r.until is null
order by r.farm_id, r.id;

-- name: receive_message
-- Write a text down under the carrier's id; no row comes back for one that is there already.
insert into messages (id, carrier, number, person_id, body, sent_at, arrived_at, kind, reply, parts)
values (:id, :carrier, :number, null, :body, :sent_at, :arrived_at, null, null, null)
on conflict (id) do nothing
returning id;

-- name: message
-- A text by its id.
select * from messages where id = :id;

-- name: close_message
-- What became of a text.
update messages set person_id = :person_id, kind = :kind, reply = :reply, parts = :parts where id = :id;

-- name: last_reply_to
-- When a number was last answered with words.
select arrived_at as at from messages
where number = :number and reply is not null and id <> :except_id
order by arrived_at desc, id desc limit :most;

-- name: messages_between
-- Texts that arrived in a span of time, oldest first.
select * from messages where arrived_at >= :since and arrived_at < :until order by arrived_at, id;

-- name: latest_from
-- The newest texts of a number.
select * from messages where number = :number order by arrived_at desc, id desc limit :most;

-- name: texts_of_farm_alone
-- The texts that brought lines to a farm's book and to no other.
select m.id, m.body from messages m
where m.id in (select e.message_id from entries e where e.farm_id = :farm_id)
and not exists (select 1 from entries o where o.message_id = m.id and o.farm_id <> :farm_id);

-- name: add_entry
-- A line of the day-book.
insert into entries (
    id, farm_id, message_id, by_person, via, what, day, block, ml, grams, drc_hundredths, rain, late, again, reason,
    pieces, sheets, taken_from, grade, price_ten_thousandths, place, entered_at, replaces, removed, confirmed, computed
) values (
    :id, :farm_id, :message_id, :by_person, :via, :what, :day, :block, :ml, :grams, :drc_hundredths, :rain, :late, :again,
    :reason, :pieces, :sheets, :taken_from, :grade, :price_ten_thousandths, :place, :entered_at, :replaces, :removed,
    :confirmed, :computed
) on conflict (replaces) do nothing
returning *;

-- name: mark_lesson
-- Something was entered that changes what is to be expected of a farm.
insert into lessons (farm_id, mark) values (:farm_id, :mark)
on conflict (farm_id) do update set mark = excluded.mark;

-- name: lesson
-- The mark of what a farm's book taught last.
select mark from lessons where farm_id = :farm_id;

-- name: hold_lesson
-- Whoever writes for a farm, or keeps what its book taught, waits here for the other; the mark stays where there is one.
insert into lessons (farm_id, mark) values (:farm_id, :mark)
on conflict (farm_id) do update set mark = lessons.mark;

-- name: keep_learned
-- What a farm's book had taught by the end of a day.
insert into learned (farm_id, through, basis, lasting, chain, rubber, litres)
values (:farm_id, :through, :basis, :lasting, :chain, :rubber, :litres)
on conflict (farm_id, through) do update set
    basis = excluded.basis, lasting = excluded.lasting, chain = excluded.chain, rubber = excluded.rubber,
    litres = excluded.litres;

-- name: learned_before
-- The newest that is kept of the days before one.
select through, basis, chain, rubber, litres from learned
where farm_id = :farm_id and through < :before
order by through desc limit :most;

-- name: drop_learned_with
-- A line was entered: what was learned from its day, or from that of the line it replaces, does not hold any more.
delete from learned where farm_id = :farm_id
and through >= (select min(day) from entries where id = :id or id = :replaces);

-- name: drop_learned
-- Nothing that was learned of a farm holds any more.
delete from learned where farm_id = :farm_id;

-- name: thin_learned
-- Of older days only the ends of months are kept.
delete from learned where farm_id = :farm_id and lasting = 0 and through < :before;

-- name: first_day_after
-- The first day after one on which a farm's book has a line.
select min(day) as day from entries where farm_id = :farm_id and day > :day;

-- name: entry
-- A line by its id.
select e.*, p.number, p.name, p.language, p.opted_out_at, p.blocked_at
from entries e join people p on p.id = e.by_person
where e.id = :id;

-- name: successor
-- The line that took the place of another.
select id from entries where replaces = :id;

-- name: standing
-- What stands in a farm's book for some days: lines that nothing replaced and that do not take out another.
select e.*, p.number, p.name, p.language, p.opted_out_at, p.blocked_at
from entries e join people p on p.id = e.by_person
where e.farm_id = :farm_id and e.day >= :first_day and e.day <= :last_day and e.removed = 0
and not exists (select 1 from entries later where later.replaces = e.id)
order by e.day, e.entered_at, e.id;

-- name: standing_of_kind
-- What stands of one kind of record. (A kind is cast, here and below: SQLite compares a bare parameter with the condition of an
-- index, and for that plans the statement anew each time that it is run, which costs ten times the reading.)
select e.*, p.number, p.name, p.language, p.opted_out_at, p.blocked_at
from entries e join people p on p.id = e.by_person
where e.farm_id = :farm_id and e.what = cast(:what as text) and e.day >= :first_day and e.day <= :last_day and e.removed = 0
and not exists (select 1 from entries later where later.replaces = e.id)
order by e.day, e.entered_at, e.id;

-- name: reported_days
-- The days of which anybody reported something that stands, for each of them.
select distinct e.by_person, e.day
from entries e
where e.farm_id = :farm_id and e.day >= :first_day and e.day <= :last_day and e.removed = 0
and not exists (select 1 from entries later where later.replaces = e.id)
order by e.by_person, e.day;

-- name: computed_of_kind
-- What was worked out of lines of a kind that stand and hold a quantity, with their days.
select e.day, e.computed
from entries e
where e.farm_id = :farm_id and e.what = cast(:what as text) and e.day >= :first_day and e.day <= :last_day and e.removed = 0
and (e.ml is not null or e.grams is not null) and e.computed is not null
and not exists (select 1 from entries later where later.replaces = e.id)
order by e.day, e.entered_at, e.id;

-- name: tapped_days
-- The days of which latex of any block stands.
select distinct e.block, e.day
from entries e
where e.farm_id = :farm_id and e.what = cast(:what as text) and e.day >= :first_day and e.day <= :last_day and e.removed = 0
and e.block is not null
and not exists (select 1 from entries later where later.replaces = e.id)
order by e.block, e.day;

-- name: lines_by_person
-- How many lines of some days anybody has in a farm's book, standing or not, and how he is called.
select p.id, p.name, count(*) as lines
from entries e join people p on p.id = e.by_person
where e.farm_id = :farm_id and e.day >= :first_day and e.day <= :last_day
group by p.id, p.name
order by p.id;

-- name: all_entries
-- Every line of a farm's book for some days, also those that were replaced or take out another.
select e.*, p.number, p.name, p.language, p.opted_out_at, p.blocked_at
from entries e join people p on p.id = e.by_person
where e.farm_id = :farm_id and e.day >= :first_day and e.day <= :last_day
order by e.day, e.entered_at, e.id;

-- name: entries_of_message
-- The lines that a text brought.
select e.*, p.number, p.name, p.language, p.opted_out_at, p.blocked_at
from entries e join people p on p.id = e.by_person
where e.message_id = :message_id
order by e.id;

-- name: written_since
-- Lines written after an id that tell, or told before they were changed, of days up to one.
select e.id, e.what, e.day, old.what as old_what, old.day as old_day
from entries e left join entries old on old.id = e.replaces
where e.farm_id = :farm_id and e.id > :since and (e.day <= :last_day or old.day <= :last_day)
order by e.id;

-- name: latest_farm_of
-- The farm for which somebody entered last.
select farm_id from entries where by_person = :person_id order by entered_at desc, id desc limit :most;

-- name: position_of_take
-- How many takes a farm's book holds up to one of them, corrections not counted.
select count(*) as position from entries
where farm_id = :farm_id and what = 'collected' and id <= :id and coalesce(replaces, '') = '';

-- name: ask
-- A question to somebody.
insert into questions (id, person_id, farm_id, message_id, body, asked_at, expires_at, closed_at, outcome)
values (:id, :person_id, :farm_id, :message_id, :body, :asked_at, :expires_at, null, null);

-- name: open_question
-- The question that somebody has not answered yet.
select * from questions
where person_id = :person_id and closed_at is null and expires_at > :now
order by asked_at desc, id desc limit :most;

-- name: close_questions
-- Whatever was asked of somebody is settled.
update questions set closed_at = :at, outcome = :outcome where person_id = :person_id and closed_at is null;

-- name: put_in_outbox
-- A text that waits to be sent; no row comes back for one whose key exists.
insert into outbox (
    id, number, body, parts, because, dedupe_key, state, attempts, created_at, due_at, changed_at, carrier_id, error_code,
    not_after
) values (
    :id, :number, :body, :parts, :because, :dedupe_key, 'new', 0, :created_at, :due_at, :created_at, null, null,
    :not_after
) on conflict (dedupe_key) do nothing
returning id;

-- name: has_key
-- Whether a text with this key was ever put.
select count(*) as n from outbox where dedupe_key = :dedupe_key;

-- name: claim
-- Take the oldest text that is due; the state stands in the outer condition too, so that no two take the same.
update outbox set state = 'sending', attempts = attempts + 1, changed_at = :now, gateway = :gateway
where id = (
    select id from outbox where state = 'new' and due_at <= :now and (not_after is null or not_after > :now)
    order by due_at, id limit 1
) and state = 'new'
returning *;

-- name: claim_alarm
-- Take the oldest text to an operator that is due: it goes out whatever waits besides.
update outbox set state = 'sending', attempts = attempts + 1, changed_at = :now, gateway = :gateway
where id = (
    select id from outbox
    where state = 'new' and due_at <= :now and (not_after is null or not_after > :now)
    and dedupe_key >= 'alarm>' and dedupe_key < 'alarm?'
    order by due_at, id limit 1
) and state = 'new'
returning *;

-- name: is_due
-- Whether a text is due that nobody has taken.
select id from outbox
where state = 'new' and due_at <= :now and (not_after is null or not_after > :now) limit :most;

-- name: set_state
-- What became of a text.
update outbox set state = :state, changed_at = :at, carrier_id = :carrier_id, error_code = :error_code, due_at = :due_at
where id = :id;

-- name: mark_unsure
-- A text that may or may not have gone out; what a receipt said of it meanwhile stands.
update outbox set state = 'unsure', changed_at = :at where id = :id and state = 'sending';

-- name: to_ask_after
-- Texts that may or may not have gone out, were not asked after of late, and are not too old.
select * from outbox
where state = 'unsure' and gateway is null and due_at >= :since and (changed_at < :before or changed_at = :marked)
order by due_at, id limit :most;

-- name: asked_after
-- The carrier was asked after a text and could not tell.
update outbox set changed_at = :at where id = :id and state = 'unsure';

-- name: sent_since
-- What became of texts that went out since a moment, and of how many it is known that they reached their phone.
select state, count(*) as n, count(delivered_at) as delivered from outbox
where (state = 'sent' or state = 'failed') and due_at >= :since
group by state order by state;

-- name: left_sending
-- Texts that were being sent when something broke; a gateway that took one may have it for longer.
select * from outbox
where state = 'sending' and ((gateway is null and changed_at < :before) or changed_at < :fetched_before)
order by changed_at, id;

-- name: renew_lease
-- The text that this gateway took first and of which nothing was heard in time, to the same gateway once more.
update outbox set changed_at = :now
where id = (
    select id from outbox where state = 'sending' and gateway = :gateway and changed_at <= :before
    order by changed_at, id limit 1
) and state = 'sending' and changed_at <= :before
returning *;

-- name: outgoing
-- A text to others by its id.
select * from outbox where id = :id;

-- name: set_delivered
-- A text reached the phone that it is for.
update outbox set delivered_at = :at, changed_at = :at where id = :id and delivered_at is null;

-- name: note_gateway_call
-- What a gateway calls with; no row comes back for a call that came before.
insert into gateway_calls (gateway, nonce, called_at) values (:gateway, :nonce, :at)
on conflict (gateway, nonce) do nothing
returning nonce;

-- name: drop_gateway_calls
-- Calls that are too old to be let in again by their time.
delete from gateway_calls where called_at < :before;

-- name: gateway_heard
-- When a gateway called last.
select max(called_at) as at from gateway_calls where gateway = :gateway;

-- name: lapse
-- Texts that wait and would come too late are given up.
update outbox set state = 'failed', changed_at = :now, error_code = 'late'
where state = 'new' and not_after <= :now
returning id;

-- name: give_up_put_ahead
-- Texts that a wrong clock put ahead, and that had to go out by some hour of a wrong day, are given up.
update outbox set state = 'failed', changed_at = :now, created_at = :now, error_code = 'clock'
where created_at > :ahead and state = 'new' and not_after is not null;

-- name: set_right_put_ahead
-- Other texts that a wrong clock put ahead wait from now on.
update outbox set created_at = :now, due_at = :now, changed_at = :now where created_at > :ahead and state = 'new';

-- name: parts_with_an_end
-- What texts that had to go out by some time have cost since a moment. (Found by their state, all that were ever sent would be
-- read.)
select coalesce(sum(parts), 0) as parts from outbox
where created_at >= :since and not_after is not null and coalesce(state, '') in ('sending', 'sent', 'unsure');

-- name: waiting_count
-- How many texts wait.
select count(*) as n from outbox where state = 'new';

-- name: due_count
-- How many texts could go out now.
select count(*) as n from outbox where state = 'new' and due_at <= :now and (not_after is null or not_after > :now);

-- name: because_of
-- What others were told because of a text.
select * from outbox where because = :because order by id;

-- name: outbox_between
-- Texts that were put in a span of time.
select * from outbox where created_at >= :since and created_at < :until order by created_at, id;

-- name: add_pay_terms
-- Terms of pay from a day on: of one person, or of all tappers where no person is named.
insert into pay_terms (id, farm_id, person_id, since, terms, set_at, message_id)
values (:id, :farm_id, :person_id, :since, :terms, :set_at, :message_id);

-- name: pay_terms
-- All terms of a farm, oldest first.
select * from pay_terms where farm_id = :farm_id order by since, set_at, id;

-- name: add_money_line
-- An advance, a deduction or a bonus.
insert into money_lines (
    id, farm_id, person_id, day, kind, ten_thousandths, note, entered_at, message_id, taken_back_at
) values (:id, :farm_id, :person_id, :day, :kind, :ten_thousandths, :note, :entered_at, :message_id, null);

-- name: money_lines
-- What stands of a farm's advances, deductions and bonuses for some days.
select * from money_lines
where farm_id = :farm_id and day >= :first_day and day <= :last_day and taken_back_at is null
order by day, id;

-- name: take_back_money_line
-- A line of money that does not stand any more.
update money_lines set taken_back_at = :at where id = :id and taken_back_at is null;

-- name: add_settlement
-- A settlement that was confirmed; no row comes back where that time was settled before.
insert into settlements (
    id, farm_id, person_id, first_day, last_day, slip, earned_ten_thousandths, recovered_ten_thousandths,
    paid_ten_thousandths, owed_ten_thousandths, confirmed_at, message_id
) values (
    :id, :farm_id, :person_id, :first_day, :last_day, :slip, :earned, :recovered, :paid, :owed, :confirmed_at, :message_id
) on conflict (farm_id, person_id, first_day) do nothing
returning id;

-- name: settlements
-- All settlements of a farm, oldest first.
select * from settlements where farm_id = :farm_id order by first_day, id;

-- name: cut_links
-- Links of somebody that were made before now open nothing any more.
insert into link_cuts (person_id, since) values (:person_id, :since)
on conflict (person_id) do update set since = excluded.since;

-- name: link_cut
-- Since when links of somebody count.
select since from link_cuts where person_id = :person_id;

-- name: set_pin
-- Somebody's PIN as a salted hash; what was tried before counts no more.
insert into pins (person_id, hash, set_at, tries, tries_since, blocked_at, hinted_at)
values (:person_id, :hash, :set_at, 0, :set_at, null, null)
on conflict (person_id) do update set
    hash = excluded.hash, set_at = excluded.set_at, tries = 0, tries_since = excluded.set_at, blocked_at = null;

-- name: pin
-- Somebody's PIN and what was tried.
select * from pins where person_id = :person_id;

-- name: begin_try
-- Count a try before it is looked at: whoever tries at the same moment waits for this row.
update pins set tries = tries + 1 where person_id = :person_id returning *;

-- name: set_tries
-- How many wrong tries stand since when, and since when PINs are taken no more.
update pins set tries = :tries, tries_since = :since, blocked_at = :blocked_at where person_id = :person_id;

-- name: forget_pin
-- No PIN and no tries any more.
delete from pins where person_id = :person_id;

-- name: hint_at_pin
-- When somebody without a PIN was told how to choose one.
insert into pins (person_id, hash, set_at, tries, tries_since, blocked_at, hinted_at)
values (:person_id, null, null, 0, :at, null, :at)
on conflict (person_id) do update set hinted_at = excluded.hinted_at;

-- name: raise_alarm
-- Something that a person has to see to; once a day for a number, and not again within some hours over midnight.
insert into alarms (id, number, kind, day, line, figures, raised_at, told_at)
select :id, :number, :kind, :day, :line, :figures, :at, :told
where not exists (
    select 1 from alarms where number = :number and kind = :kind and raised_at > :since and raised_at <= :at
)
on conflict (number, kind, day) do nothing;

-- name: untold_alarms
-- What the operator has not been told.
select id, line from alarms where told_at is null order by id;

-- name: alarms_to_text
-- What the operators have not been texted, of those that were raised since a moment.
select id, kind, figures from alarms where texted_at is null and raised_at >= :since order by raised_at, id;

-- name: alarm_texted
-- The operators are texted.
update alarms set texted_at = :at where id = :id;

-- name: note_done
-- Something was done just now.
insert into last_done (what, at, more) values (:what, :at, :more)
on conflict (what) do update set at = excluded.at, more = excluded.more;

-- name: last_done
-- When something was last done.
select at, more from last_done where what = :what;

-- name: alarms_of_day
-- How many alarms of each kind were raised on a day (UTC).
select kind, count(*) as n from alarms where day = :day group by kind order by kind;

-- name: alarm_told
-- The operator was told.
update alarms set told_at = :at where id = :id;

-- name: forget_alarms
-- Alarms about a number are taken out.
delete from alarms where number = :number;

-- name: answers_since
-- What a number was answered since a moment, newest first.
select reply from messages
where number = :number and arrived_at >= :since and reply is not null and id <> :except_id
order by arrived_at desc, id desc limit :most;

-- name: parts_answered
-- Parts of the answers given since a moment.
select coalesce(sum(parts), 0) as n from messages where arrived_at >= :since;

-- name: parts_sent
-- Parts of the texts that went out, or may have, since a moment.
select coalesce(sum(parts), 0) as n from outbox where state in ('sending', 'sent', 'unsure') and due_at >= :since;

-- name: withdraw
-- Texts that wait for a number are not sent any more.
update outbox set state = 'failed', changed_at = :at, error_code = :why
where number = :number and state = 'new';

-- name: roles_of
-- What somebody is and was, and where.
select r.farm_id, f.name as farm, r.role, r.blocks, r.since, r.until
from roles r join farms f on f.id = r.farm_id where r.person_id = :person_id order by r.id;

-- name: messages_of
-- All texts of a number, oldest first.
select * from messages where number = :number order by arrived_at, id;

-- name: outbox_of
-- All texts to a number, oldest first.
select * from outbox where number = :number order by created_at, id;

-- name: entries_of
-- All lines of somebody's work, also those that were replaced or take out another.
select e.*, p.number, p.name, p.language, p.opted_out_at, p.blocked_at
from entries e join people p on p.id = e.by_person
where e.by_person = :person_id order by e.entered_at, e.id;

-- name: entries_of_farm_via
-- The lines of a farm that were texted from a phone.
select id from entries where farm_id = :farm_id and via = :via;

-- name: set_via
-- The phone that a line was texted from.
update entries set via = :via where id = :id;

-- name: forget_person
-- A person without name and number.
update people set name = :name, number = :number, opted_out_at = :at, blocked_at = null where id = :id;

-- name: rewrite_message
-- What is kept of a text.
update messages set number = :number, body = :body, reply = :reply where id = :id;

-- name: rewrite_outbox
-- What is kept of a text that went out.
update outbox set number = :number, body = :body, dedupe_key = :dedupe_key where id = :id;

-- name: blank_questions
-- What was asked of somebody is taken out.
update questions set body = '{}' where person_id = :person_id and closed_at is not null;

-- name: text_since
-- When the newest text came that came after a moment.
select arrived_at as at from messages where arrived_at >= :since order by arrived_at desc limit :most;

-- name: keep_beginning
-- What a number that begins a farm by text has said so far.
insert into beginnings (number, body, expires_at) values (:number, :body, :expires_at)
on conflict (number) do update set body = excluded.body, expires_at = excluded.expires_at;

-- name: beginning
-- What a number that begins a farm by text has said so far.
select body from beginnings where number = :number and expires_at > :now;

-- name: drop_beginning
-- A number does not begin a farm any more.
delete from beginnings where number = :number;

-- name: drop_expired_beginnings
-- Beginnings that nobody went on with.
delete from beginnings where expires_at <= :now;

-- name: newest_text
-- When the newest text arrived.
select max(arrived_at) as at from messages;

-- name: not_settled
-- Texts that wait, are on their way, or may have gone out, with the longest that one is due.
select state, count(*) as n, min(due_at) as oldest from outbox
where state = 'new' or state = 'sending' or state = 'unsure'
group by state order by state;

-- name: add_cooperative
-- A new cooperative.
insert into cooperatives (id, name, name_key, timezone, currency, language, closing_hour, created_at)
values (:id, :name, :name_key, :timezone, :currency, :language, :closing_hour, :created_at);

-- name: change_cooperative
-- A cooperative's zone, currency, language and closing hour.
update cooperatives set timezone = :timezone, currency = :currency, language = :language, closing_hour = :closing_hour
where id = :id;

-- name: cooperative
-- A cooperative by its id.
select * from cooperatives where id = :id;

-- name: cooperative_named
-- A cooperative by its folded name.
select * from cooperatives where name_key = :name_key;

-- name: all_cooperatives
-- All cooperatives in the order in which they were added.
select * from cooperatives order by id;

-- name: add_cooperative_farm
-- A farm that belongs to a cooperative from now on, and to no other.
insert into cooperative_farms (farm_id, cooperative_id) values (:farm_id, :cooperative_id)
on conflict (farm_id) do update set cooperative_id = excluded.cooperative_id;

-- name: cooperative_of_farm
-- The cooperative that a farm belongs to.
select c.* from cooperatives c join cooperative_farms f on f.cooperative_id = c.id where f.farm_id = :farm_id;

-- name: farms_of_cooperative
-- The farms of a cooperative by name.
select f.* from farms f join cooperative_farms c on c.farm_id = f.id
where c.cooperative_id = :cooperative_id order by f.name_key;

-- name: add_manager
-- Somebody who manages a cooperative from a moment on.
insert into managers (id, cooperative_id, person_id, since, until)
values (:id, :cooperative_id, :person_id, :since, null);

-- name: managers_of
-- Who manages a cooperative.
select p.* from managers m join people p on p.id = m.person_id
where m.cooperative_id = :cooperative_id and m.until is null order by m.id;

-- name: managed_by
-- What somebody manages.
select c.* from managers m join cooperatives c on c.id = m.cooperative_id
where m.person_id = :person_id and m.until is null order by m.id;

-- name: end_managing
-- Somebody manages nothing any more.
update managers set until = :at where person_id = :person_id and until is null;

-- name: end_managing_one
-- Somebody does not manage a cooperative any more.
update managers set until = :at where person_id = :person_id and cooperative_id = :cooperative_id and until is null;

-- name: set_place_details
-- The cooperative, number and hours of a collection point.
insert into place_details (point_id, cooperative_id, number, opens, closes)
values (:point_id, :cooperative_id, :number, :opens, :closes)
on conflict (point_id) do update set
    cooperative_id = excluded.cooperative_id, number = excluded.number, opens = excluded.opens, closes = excluded.closes;

-- name: places_of
-- The places of a cooperative by number, each with its farms.
select p.id, p.name, d.cooperative_id, d.number, d.opens, d.closes, f.farm_id
from place_details d join points p on p.id = d.point_id left join point_farms f on f.point_id = p.id
where d.cooperative_id = :cooperative_id order by d.number, f.farm_id;

-- name: clear_point_farms
-- No farm brings to a place any more.
delete from point_farms where point_id = :point_id;

-- name: add_stop
-- A stop on somebody's round of a weekday.
insert into round_stops (person_id, weekday, point_id, position) values (:person_id, :weekday, :point_id, :position)
on conflict (person_id, weekday, point_id) do update set position = excluded.position;

-- name: clear_round
-- No stops on somebody's round of a weekday.
delete from round_stops where person_id = :person_id and weekday = :weekday;

-- name: clear_rounds
-- No rounds of somebody any more.
delete from round_stops where person_id = :person_id;

-- name: rounds_of
-- The stops of somebody's rounds in order.
select r.weekday, r.point_id, p.name from round_stops r join points p on p.id = r.point_id
where r.person_id = :person_id order by r.weekday, r.position, r.point_id;

-- name: rounds_of_cooperative
-- All rounds to places of a cooperative, by collector and weekday.
select r.person_id, r.weekday, r.point_id, q.name, q.number, q.language, q.opted_out_at, q.blocked_at
from round_stops r join place_details d on d.point_id = r.point_id join people q on q.id = r.person_id
where d.cooperative_id = :cooperative_id order by r.person_id, r.weekday, r.position, r.point_id;

-- name: add_list_price
-- A cooperative's price of a grade or form from a day on.
insert into list_prices (id, cooperative_id, day, kind, ten_thousandths, set_at, message_id)
values (:id, :cooperative_id, :day, :kind, :ten_thousandths, :set_at, :message_id);

-- name: list_price
-- The newest price of a kind up to a day.
select * from list_prices where cooperative_id = :cooperative_id and kind = :kind and day <= :day
order by day desc, id desc limit :most;

-- name: list_prices_until
-- All prices of a cooperative up to a day, oldest first.
select * from list_prices where cooperative_id = :cooperative_id and day <= :day order by day, id;

-- name: add_dispute
-- Somebody does not agree with what was taken.
insert into disputes (
    id, entry_id, farm_id, by_person, message_id, said, grams, raised_at, settled_at, settled_by, outcome
) values (:id, :entry_id, :farm_id, :by_person, :message_id, :said, :grams, :raised_at, null, null, null);

-- name: dispute
-- A dispute by its id.
select * from disputes where id = :id;

-- name: disputes_of_entry
-- The disputes over one take, oldest first.
select * from disputes where entry_id = :entry_id order by raised_at, id;

-- name: open_disputes_of_farm
-- What is in dispute at a farm, oldest first.
select * from disputes where farm_id = :farm_id and settled_at is null order by raised_at, id;

-- name: open_disputes_of_cooperative
-- What is in dispute at the farms of a cooperative, oldest first.
select d.* from disputes d join cooperative_farms c on c.farm_id = d.farm_id
where c.cooperative_id = :cooperative_id and d.settled_at is null order by d.raised_at, d.id;

-- name: settle_disputes
-- The disputes over one take are settled.
update disputes set settled_at = :at, settled_by = :by_person, outcome = :outcome
where entry_id = :entry_id and settled_at is null;

-- name: disputes_by
-- What somebody disputed.
select * from disputes where by_person = :person_id order by raised_at, id;

-- name: disputes_over_work_of
-- The disputes at the farms where somebody has or had a role.
select d.id, d.said from roles r join disputes d on d.farm_id = r.farm_id where r.person_id = :person_id;

-- name: set_dispute_said
-- What is kept of the words of a dispute.
update disputes set said = :said where id = :id;

-- name: blank_disputes
-- The words of somebody's disputes are taken out.
update disputes set said = '' where by_person = :person_id;

-- name: standing_of_cooperative
-- What stands of one kind at all farms of a cooperative for some days.
select e.*, p.number, p.name, p.language, p.opted_out_at, p.blocked_at
from entries e join people p on p.id = e.by_person join cooperative_farms c on c.farm_id = e.farm_id
where c.cooperative_id = :cooperative_id and e.what = cast(:what as text)
and e.day >= :first_day and e.day <= :last_day and e.removed = 0
and not exists (select 1 from entries later where later.replaces = e.id)
order by e.day, e.entered_at, e.id;

-- name: add_store_out
-- Something left a cooperative's store; bales where their weight is said.
insert into store_out (id, cooperative_id, day, kind, grams, bale_g, entered_at, message_id)
values (:id, :cooperative_id, :day, :kind, :grams, :bale_g, :entered_at, :message_id);

-- name: left_store
-- What left a cooperative's store up to a day, by grade or form and weight of a bale.
select kind, bale_g, sum(grams) as grams from store_out
where cooperative_id = :cooperative_id and day <= :day group by kind, bale_g order by kind, bale_g;

-- name: add_bales
-- Sheets pressed into bales.
insert into bales (id, cooperative_id, day, kind, bale_g, pieces, entered_at, message_id)
values (:id, :cooperative_id, :day, :kind, :bale_g, :pieces, :entered_at, :message_id);

-- name: pressed
-- Bales pressed up to a day, by grade and weight.
select kind, bale_g, sum(pieces) as pieces from bales
where cooperative_id = :cooperative_id and day <= :day group by kind, bale_g order by kind, bale_g;

-- name: hold_store
-- A cooperative's store, held until the transaction ends: whoever is about to take something out of it waits.
update cooperatives set name = name where id = :cooperative_id returning id;

-- name: add_store_count
-- What was counted at a store, against what the books had.
insert into store_counts (id, cooperative_id, day, kind, bale_g, expected_g, grams, entered_at, message_id)
values (:id, :cooperative_id, :day, :kind, :bale_g, :expected_g, :grams, :entered_at, :message_id);

-- name: counted
-- What counting found more or less than the books had up to a day, and how often it was counted.
select kind, bale_g, sum(grams - expected_g) as grams, count(*) as times from store_counts
where cooperative_id = :cooperative_id and day <= :day group by kind, bale_g order by kind, bale_g;

-- name: set_bale
-- What a bale of a cooperative weighs from now on.
update cooperatives set bale_g = :bale_g where id = :id;

-- name: add_take
-- The figures of a take that sums are made of: grade or form, grams that are paid for, amount, why the grade was given.
insert into takes (entry_id, farm_id, kind, paid_g, ten_thousandths, notes)
values (:entry_id, :farm_id, :kind, :paid_g, :ten_thousandths, :notes);

-- name: taken_into_store
-- The kilos that a cooperative's collectors took up to a day, by grade or form.
select t.kind, sum(t.paid_g) as paid_g
from cooperative_farms c join takes t on t.farm_id = c.farm_id join entries e on e.id = t.entry_id
where c.cooperative_id = :cooperative_id and e.day <= :day and e.removed = 0
and not exists (select 1 from entries later where later.replaces = e.id)
group by t.kind;

-- name: grades_taken
-- What was taken at a cooperative's farms for some days, with the reasons of grades.
select t.farm_id, f.name, e.day, t.kind, t.paid_g, t.ten_thousandths, t.notes
from cooperative_farms c join farms f on f.id = c.farm_id join takes t on t.farm_id = c.farm_id
join entries e on e.id = t.entry_id
where c.cooperative_id = :cooperative_id and e.day >= :first_day and e.day <= :last_day and e.removed = 0
and not exists (select 1 from entries later where later.replaces = e.id)
order by f.name_key, e.day, t.entry_id;

-- name: lock_receipts
-- Whoever is about to look whether a take is in the book waits for those of the same cooperative who do so already.
insert into receipt_counters (cooperative_id, newest) values (:cooperative_id, :before)
on conflict (cooperative_id) do update set newest = receipt_counters.newest;

-- name: count_receipt
-- The next number of a cooperative's receipts, and none below the least.
update receipt_counters set newest = case when newest + 1 < :least then :least else newest + 1 end
where cooperative_id = :cooperative_id returning newest;

-- name: add_receipt
-- The number of the receipt of a take, by its first line.
insert into receipts (entry_id, cooperative_id, number) values (:entry_id, :cooperative_id, :number);

-- name: add_own_receipt
-- The number of a receipt that a farm gives itself, by its first line.
insert into own_receipts (entry_id, farm_id, number) values (:entry_id, :farm_id, :number);

-- name: receipt_mark
-- The highest number that a farm has, and which cooperative gave it.
select * from receipt_marks where farm_id = :farm_id;

-- name: set_receipt_mark
-- The highest number that a farm has.
insert into receipt_marks (farm_id, cooperative_id, highest) values (:farm_id, :cooperative_id, :highest)
on conflict (farm_id) do update set cooperative_id = excluded.cooperative_id, highest = excluded.highest;

-- name: highest_receipt
-- How many takes a farm has before one, and the highest numbers that cooperatives and itself gave them.
select count(*) as takes, max(r.number) as given, max(o.number) as own
from entries e left join receipts r on r.entry_id = e.id left join own_receipts o on o.entry_id = e.id
where e.farm_id = :farm_id and e.what = 'collected' and e.id < :id and coalesce(e.replaces, '') = '';

-- name: receipt_of
-- The number of the receipt of a take, by its first line.
select number from receipts where entry_id = :entry_id
union all
select number from own_receipts where entry_id = :entry_id;

-- name: receipts_of_farm
-- The numbers of a farm's receipts that are kept, by the first line of each take.
select receipts.entry_id, receipts.number from entries join receipts on receipts.entry_id = entries.id
where entries.farm_id = :farm_id
union all
select own_receipts.entry_id, own_receipts.number from own_receipts where own_receipts.farm_id = :farm_id;

-- name: entry_of_receipt
-- The first line of the take whose receipt has a number.
select entry_id from receipts where cooperative_id = :cooperative_id and number = :number;
-- name: last_by_carrier
-- When a number last texted by a carrier.
select arrived_at as at from messages
where number = :number and carrier = :carrier order by arrived_at desc, id desc limit :most;
-- name: set_block_area
-- What a block is stated to measure, square metres.
update blocks set square_metres = :square_metres where id = :id;

-- name: add_plot
-- A plot of land of a block.
insert into plots (id, farm_id, block_id, name, name_key, shape, square_metres, added_at, ended_at)
values (:id, :farm_id, :block_id, :name, :name_key, :shape, :square_metres, :added_at, null);

-- name: end_plot
-- A plot counts no more; what was said of it is kept.
update plots set ended_at = :at where farm_id = :farm_id and name_key = :name_key and ended_at is null returning id;

-- name: plots_of_farm
-- The plots of a farm that count, by block.
select p.*, b.name as block from plots p join blocks b on b.id = p.block_id
where p.farm_id = :farm_id and p.ended_at is null order by b.position, p.name_key;

-- name: ended_plots
-- The plots of a farm that count no more, the latest ended first.
select p.*, b.name as block from plots p join blocks b on b.id = p.block_id
where p.farm_id = :farm_id and p.ended_at is not null order by p.ended_at desc, p.id;

-- name: all_plots
-- The plots of all farms that count.
select p.*, b.name as block from plots p join blocks b on b.id = p.block_id
where p.ended_at is null order by p.farm_id, b.position, p.name_key;

-- name: add_lot
-- A lot for sale; no row comes back where there is one of that name.
insert into lots (id, name, name_key, product, buyer, opened_at, closed_at, net_grams, statement)
values (:id, :name, :name_key, :product, :buyer, :opened_at, null, null, null)
on conflict (name_key) do nothing
returning id;

-- name: lot_named
-- A lot by its folded name.
select * from lots where name_key = :name_key;

-- name: all_lots
-- All lots, oldest first.
select * from lots order by id;

-- name: hold_lot
-- An open lot, held until the transaction ends: whoever changes it at the same moment waits.
update lots set buyer = buyer where id = :id and closed_at is null returning id;

-- name: close_lot
-- A lot is sold: its net mass, and what was stated of it.
update lots set closed_at = :at, net_grams = :net_grams, buyer = :buyer, statement = :statement
where id = :id and closed_at is null returning id;

-- name: add_lot_take
-- So much of a receipt goes into a lot.
insert into lot_takes (id, lot_id, farm_id, take_id, grams, added_at, taken_out_at)
values (:id, :lot_id, :farm_id, :take_id, :grams, :added_at, null);

-- name: take_up
-- So much more of a receipt is in lots; no row comes back where it would be more than the receipt has.
insert into taken_up (take_id, grams) values (:take_id, :grams)
on conflict (take_id) do update set grams = taken_up.grams + excluded.grams
where taken_up.grams + excluded.grams <= :most
returning grams;

-- name: give_back
-- So much less of a receipt is in lots.
update taken_up set grams = grams - :grams where take_id = :take_id;

-- name: taken_up
-- How much of a receipt is in lots.
select grams from taken_up where take_id = :take_id;

-- name: takes_of_lot
-- What a lot is made of, in the order in which it was added.
select * from lot_takes where lot_id = :lot_id and taken_out_at is null order by id;

-- name: take_out_of_lot
-- A part of a lot is taken out again.
update lot_takes set taken_out_at = :at where id = :id and taken_out_at is null returning id;

-- name: lots_of_farm
-- What lots hold of a farm.
select t.*, l.name as lot from lot_takes t join lots l on l.id = t.lot_id
where t.farm_id = :farm_id and t.taken_out_at is null order by t.id;

-- name: sold_of_farm
-- What lots that were closed from one moment up to another hold of a farm.
select t.*, l.name as lot from lot_takes t join lots l on l.id = t.lot_id
where t.farm_id = :farm_id and t.taken_out_at is null and l.closed_at >= :since and l.closed_at < :before
order by t.id;

-- name: add_lot_unknown
-- Rubber of unknown origin in a lot.
insert into lot_unknowns (id, lot_id, grams, note, added_at) values (:id, :lot_id, :grams, :note, :added_at);

-- name: unknowns_of_lot
-- Rubber of unknown origin in a lot.
select * from lot_unknowns where lot_id = :lot_id order by id;

-- name: add_lot_bales
-- Bales of a store go into a lot.
insert into lot_bales (
    id, lot_id, cooperative_id, kind, bale_g, pieces, pressed_first, pressed_last, added_at, taken_out_at, left_on
) values (
    :id, :lot_id, :cooperative_id, :kind, :bale_g, :pieces, :pressed_first, :pressed_last, :added_at, null, null
);

-- name: bales_of_lot
-- The bales of a lot, in the order in which they were added.
select b.*, c.name as cooperative from lot_bales b join cooperatives c on c.id = b.cooperative_id
where b.lot_id = :lot_id and b.taken_out_at is null order by b.id;

-- name: take_bales_out_of_lot
-- Bales of a lot are taken out of it again, unless they have left with it.
update lot_bales set taken_out_at = :at where id = :id and taken_out_at is null and left_on is null returning id;

-- name: bales_leave_with_lot
-- The bales of a lot that is closed leave the store.
update lot_bales set left_on = :day
where lot_id = :lot_id and cooperative_id = :cooperative_id and taken_out_at is null and left_on is null;

-- name: bales_in_open_lots
-- Bales at a cooperative's store that open lots hold.
select kind, bale_g, sum(pieces) as pieces from lot_bales
where cooperative_id = :cooperative_id and taken_out_at is null and left_on is null
group by kind, bale_g order by kind, bale_g;

-- name: left_with_lots
-- Bales that left a cooperative's store with closed lots up to a day.
select kind, bale_g, sum(pieces) as pieces from lot_bales
where cooperative_id = :cooperative_id and left_on <= :day and taken_out_at is null
group by kind, bale_g order by kind, bale_g;

-- name: lots_of_cooperative
-- The last lots that were begun, with the grams of a cooperative's receipts in each, and its bales; none of it where there is none.
select l.id, l.name, l.closed_at,
    (
        select sum(t.grams) from lot_takes t join cooperative_farms f on f.farm_id = t.farm_id
        where t.lot_id = l.id and t.taken_out_at is null and f.cooperative_id = :cooperative_id
    ) as grams,
    (
        select sum(b.pieces) from lot_bales b
        where b.lot_id = l.id and b.taken_out_at is null and b.cooperative_id = :cooperative_id
    ) as pieces,
    (
        select sum(b.pieces * b.bale_g) from lot_bales b
        where b.lot_id = l.id and b.taken_out_at is null and b.cooperative_id = :cooperative_id
    ) as bale_grams
from lots l order by l.id desc limit :most;

-- name: bales_in_lots_by_day
-- Bales of a grade and weight in open and closed lots, by the day of their pressing.
select pressed_last as day, sum(pieces) as pieces from lot_bales
where cooperative_id = :cooperative_id and kind = :kind and bale_g = :bale_g and taken_out_at is null
group by pressed_last order by pressed_last;

-- name: pressings
-- When bales of a grade and weight were pressed, oldest first; below 0 where a pressing was taken back.
select day, pieces from bales
where cooperative_id = :cooperative_id and kind = :kind and bale_g = :bale_g order by day, id;

-- name: bales_left_otherwise
-- Grams of bales of a grade and weight that left the store in no lot.
select sum(grams) as grams from store_out
where cooperative_id = :cooperative_id and kind = :kind and bale_g = :bale_g;

-- name: add_bark
-- Bark left on the panel of a block as it was measured.
insert into bark (id, farm_id, block, panel, day, mm, person_id, message_id, at)
values (:id, :farm_id, :block, :panel, :day, :mm, :person_id, :message_id, :at);

-- name: bark_of_farm
-- What was measured of bark at a farm up to a day, oldest first; of one day the latest counts.
select * from bark where farm_id = :farm_id and day <= :last_day order by day, at, id;

-- name: bark_of_person
-- What somebody measured of bark.
select b.*, f.name as farm from bark b join farms f on f.id = b.farm_id
where b.person_id = :person_id order by b.at, b.id;

-- name: open_receipt
-- A receipt of a cooperative whose money may have changed, with the newest line in the place of its first.
insert into open_receipts (entry_id, newest_id, cooperative_id, farm_id)
select r.entry_id, :newest, r.cooperative_id, :farm_id from receipts r where r.entry_id = :first
on conflict (entry_id) do update set newest_id = excluded.newest_id;

-- name: open_receipts_of_farm
-- A farm's receipts that pay-outs may not hold as they stand, by number: what each comes to now.
select o.entry_id, o.newest_id, r.number, e.day, e.removed, t.entry_id as take_id, t.ten_thousandths
from open_receipts o join receipts r on r.entry_id = o.entry_id join entries e on e.id = o.newest_id
left join takes t on t.entry_id = o.newest_id
where o.cooperative_id = :cooperative_id and o.farm_id = :farm_id order by r.number;

-- name: paid_of_open_receipts
-- What closed pay-outs hold of a farm's open receipts.
select p.entry_id, sum(p.ten_thousandths) as ten_thousandths
from open_receipts o join payout_receipts p on p.entry_id = o.entry_id
where o.cooperative_id = :cooperative_id and o.farm_id = :farm_id group by p.entry_id;

-- name: farms_with_open_money
-- The farms of which something is open at a cooperative: receipts, or money to be taken off.
select o.farm_id from open_receipts o where o.cooperative_id = :cooperative_id
union
select m.farm_id from grower_money m
where m.cooperative_id = :cooperative_id and m.payout_id is null and m.taken_back_at is null;

-- name: close_receipt
-- A receipt is held by pay-outs as it stands, unless it was corrected meanwhile.
delete from open_receipts where entry_id = :entry_id and newest_id = :newest;

-- name: add_payout
-- A pay-out that was closed.
insert into payouts (
    id, cooperative_id, farm_id, number, day, slip, receipts_ten_thousandths, levy_ten_thousandths,
    deductions_ten_thousandths, brought_ten_thousandths, paid_ten_thousandths, carried_ten_thousandths, closed_at, message_id
) values (
    :id, :cooperative_id, :farm_id, :number, :day, :slip, :receipts, :levy,
    :deductions, :brought, :paid, :carried, :closed_at, :message_id
);

-- name: add_payout_receipt
-- What a pay-out holds of a receipt.
insert into payout_receipts (payout_id, entry_id, ten_thousandths) values (:payout_id, :entry_id, :ten_thousandths);

-- name: newest_payout_number
-- The highest number of a cooperative's pay-outs.
select max(number) as number from payouts where cooperative_id = :cooperative_id;

-- name: newest_payout_of_farm
-- The last pay-out of a farm at a cooperative.
select * from payouts where farm_id = :farm_id and cooperative_id = :cooperative_id order by number desc limit :most;

-- name: payouts_of_cooperative
-- The last pay-outs of a cooperative, the newest first.
select p.*, f.name as farm from payouts p join farms f on f.id = p.farm_id
where p.cooperative_id = :cooperative_id order by p.number desc limit :most;

-- name: pays_out
-- Whether a cooperative ever closed a pay-out, set a levy, or wrote something down that comes off.
select c.id from cooperatives c where c.id = :cooperative_id and (
    exists (select 1 from payouts p where p.cooperative_id = c.id)
    or exists (select 1 from levies l where l.cooperative_id = c.id)
    or exists (select 1 from grower_money m where m.cooperative_id = c.id)
);

-- name: payouts_of_farm
-- The last pay-outs of a cooperative to a farm, the newest first.
select p.*, f.name as farm from payouts p join farms f on f.id = p.farm_id
where p.farm_id = :farm_id and p.cooperative_id = :cooperative_id order by p.number desc limit :most;

-- name: cooperatives_of_grower
-- The cooperative of a farm, and those with which it has had pay-outs, or has money open.
select c.* from cooperatives c
where exists (select 1 from cooperative_farms f where f.farm_id = :farm_id and f.cooperative_id = c.id)
    or exists (select 1 from payouts p where p.farm_id = :farm_id and p.cooperative_id = c.id)
    or exists (select 1 from open_receipts o where o.cooperative_id = c.id and o.farm_id = :farm_id)
    or exists (
        select 1 from grower_money m
        where m.cooperative_id = c.id and m.payout_id is null and m.farm_id = :farm_id and m.taken_back_at is null
    )
order by c.id;

-- name: add_grower_money
-- Something that comes off a grower's money, or back to it.
insert into grower_money (
    id, cooperative_id, farm_id, day, kind, ten_thousandths, note, entered_at, message_id, taken_back_at, payout_id
) values (
    :id, :cooperative_id, :farm_id, :day, :kind, :ten_thousandths, :note, :entered_at, :message_id, null, null
);

-- name: open_grower_money
-- What no pay-out has taken off yet at a cooperative, oldest first.
select m.*, f.name as farm from grower_money m join farms f on f.id = m.farm_id
where m.cooperative_id = :cooperative_id and m.payout_id is null and m.taken_back_at is null order by m.day, m.id;

-- name: grower_money_of_farm
-- What stands of money to be taken off a grower, newest first: what pay-outs hold already too.
select m.*, f.name as farm from grower_money m join farms f on f.id = m.farm_id
where m.farm_id = :farm_id and m.cooperative_id = :cooperative_id and m.taken_back_at is null order by m.day desc, m.id desc;

-- name: take_back_grower_money
-- A line of a grower's money does not stand any more.
update grower_money set taken_back_at = :at where id = :id and taken_back_at is null returning id;

-- name: take_off_grower_money
-- A pay-out takes a line of a grower's money off.
update grower_money set payout_id = :payout_id where id = :id;

-- name: add_levy
-- A cooperative's levy from a day on.
insert into levies (id, cooperative_id, since, hundredths, set_at, message_id)
values (:id, :cooperative_id, :since, :hundredths, :set_at, :message_id);

-- name: levies
-- The levies of a cooperative, oldest first.
select * from levies where cooperative_id = :cooperative_id order by since, id;

-- name: wait_at_office
-- A manager's change waits for his PIN; an older one gives way to it.
insert into office_waiting (person_id, cooperative_id, message_id, words, new_pin, expires_at)
values (:person_id, :cooperative_id, :message_id, :words, :new_pin, :expires_at)
on conflict (person_id) do update set cooperative_id = excluded.cooperative_id, message_id = excluded.message_id,
    words = excluded.words, new_pin = excluded.new_pin, expires_at = excluded.expires_at;

-- name: waiting_at_office
-- A manager's change that waits for his PIN.
select * from office_waiting where person_id = :person_id and expires_at > :now;

-- name: drop_waiting_at_office
-- No change of a manager waits for his PIN any more.
delete from office_waiting where person_id = :person_id;

-- name: add_empty_visit
-- A collector met nobody at a farm; no row comes back where he said so before.
insert into empty_visits (id, cooperative_id, farm_id, person_id, day, at, message_id, withdrawn_at)
values (:id, :cooperative_id, :farm_id, :person_id, :day, :at, :message_id, null)
on conflict (farm_id, person_id, day) where withdrawn_at is null do nothing
returning id;

-- name: empty_visits
-- The farms of a cooperative where collectors met nobody on a day.
select v.farm_id, v.person_id from empty_visits v
where v.cooperative_id = :cooperative_id and v.day = :day and v.withdrawn_at is null order by v.at, v.id;

-- name: newest_empty_visits
-- The last empty visits of a collector at a cooperative from a day on, the newest first.
select v.farm_id, v.person_id, v.day, v.at, v.message_id from empty_visits v
where v.cooperative_id = :cooperative_id and v.day >= :first_day and v.person_id = :person_id and v.withdrawn_at is null
order by v.at desc, v.id desc;

-- name: withdraw_empty_visit
-- A collector did meet somebody, or was elsewhere.
update empty_visits set withdrawn_at = :at
where farm_id = :farm_id and person_id = :person_id and day = :day and withdrawn_at is null returning id;

-- name: choose_cooperative
-- A manager of several speaks of this cooperative from now on.
insert into chosen_cooperatives (person_id, cooperative_id, chosen_at) values (:person_id, :cooperative_id, :at)
on conflict (person_id) do update set cooperative_id = excluded.cooperative_id, chosen_at = excluded.chosen_at;

-- name: chosen_cooperative
-- The cooperative that a manager spoke of last.
select cooperative_id from chosen_cooperatives where person_id = :person_id;

-- name: forget_chosen_cooperative
-- What a manager chose is forgotten.
delete from chosen_cooperatives where person_id = :person_id;
